"""Runs the migrations on the connection that `app.db.session` hands over."""

from typing import Literal

from alembic import context
from alembic.autogenerate.api import AutogenContext
from sqlalchemy import TypeDecorator

from app.db.tables import Base


def _written(kind: str, item: object, _context: AutogenContext) -> str | Literal[False]:
    """How a new step writes our own types: a step must not change when a type's code does."""
    if kind == "type" and isinstance(item, TypeDecorator):
        return f"sa.{type(item.impl).__name__}()"
    return False


context.configure(
    connection=context.config.attributes["connection"],
    target_metadata=Base.metadata,
    render_as_batch=True,  # SQLite changes a table by building it anew
    transactional_ddl=True,  # SQLite undoes table changes too: a broken step leaves nothing
    render_item=_written,
)
with context.begin_transaction():
    context.run_migrations()
