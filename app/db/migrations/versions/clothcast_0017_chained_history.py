"""The history is chained: each row holds a hash of itself and of all before it."""

import hashlib
import json
from datetime import UTC, datetime

import sqlalchemy as sa
from alembic import op

revision = "clothcast_0017"
down_revision = "clothcast_0016"
branch_labels = None
depends_on = None

CHANGES = sa.table(
    "changes",
    sa.column("id", sa.Integer), sa.column("at", sa.DateTime), sa.column("person_id", sa.Integer),
    sa.column("site_id", sa.Integer), sa.column("what", sa.Text), sa.column("field", sa.Text),
    sa.column("old", sa.Text), sa.column("new", sa.Text), sa.column("version", sa.Integer),
    sa.column("request_key", sa.Text), sa.column("chain", sa.String(64)),
)  # fmt: skip


def upgrade() -> None:
    """One step on; what is there is linked as it stands."""
    empty = sa.text("''")
    column = sa.Column("chain", sa.String(length=64), nullable=False, server_default=empty)
    op.add_column("changes", column)
    connection = op.get_bind()
    columns = [column for column in CHANGES.c if column.name != "chain"]
    before, links = "0" * 64, []
    for row in connection.execute(sa.select(*columns).order_by(CHANGES.c.id)):
        number, *cells = row
        told = [before, *(_told(cell) for cell in cells)]
        text = json.dumps(told, ensure_ascii=False, allow_nan=False, separators=(",", ":"))
        before = hashlib.sha256(text.encode()).hexdigest()
        links.append({"number": number, "link": before})
    if links:
        connection.execute(
            sa.update(CHANGES)
            .where(CHANGES.c.id == sa.bindparam("number"))
            .values(chain=sa.bindparam("link")),
            links,
        )


def _told(cell: object) -> object:
    return cell.replace(tzinfo=UTC).isoformat() if isinstance(cell, datetime) else cell


def downgrade() -> None:
    """One step back."""
    op.drop_column("changes", "chain")
