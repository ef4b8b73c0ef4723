"""A site may have a day on which it always stands, as an invented one does."""

import sqlalchemy as sa
from alembic import op

revision = "clothcast_0013"
down_revision = "clothcast_0012"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """One step on."""
    empty = sa.text("''")
    column = sa.Column("stands_on", sa.String(length=10), nullable=False, server_default=empty)
    op.add_column("sites", column)


def downgrade() -> None:
    """One step back."""
    op.drop_column("sites", "stands_on")
