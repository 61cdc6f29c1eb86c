"""One store for the theatres of a department: a server beside the local store, never before it.

`server` reaches PostgreSQL and looks whether its tables are there, `migrations` make them with
Alembic, `outbox` copies what the local store holds, in order and once, `cases` reads for reviews.
The server enforces who may do what: theatres add under their own name, reviewers read, nobody
changes anything. May import record, settings, errors and places. SQLAlchemy's driver and Alembic
are an extra.
"""
