"""How Alembic runs the steps: on the connection that `server.install` hands over."""

from alembic import context

context.configure(
    connection=context.config.attributes["connection"], version_table="voicelist_schema"
)
with context.begin_transaction():
    context.run_migrations()
