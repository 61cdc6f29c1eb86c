"""One module a step, in the order of its numbers. A step that was released is never edited; each
may import Alembic alone."""
