"""Programs have tokens, what they may do and where; their answers to requests that may come twice
are kept, and what their work takes a day."""

import sqlalchemy as sa
from alembic import op

revision = "clothcast_0019"
down_revision = "clothcast_0018"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """One step on."""
    op.create_table(
        "tokens",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("digest", sa.String(length=64), nullable=False),
        sa.Column("name", sa.String(length=40), nullable=False),
        sa.Column("person_id", sa.Integer(), nullable=False),
        sa.Column("scopes", sa.String(length=80), nullable=False),
        sa.Column("made_at", sa.DateTime(), nullable=False),
        sa.Column("until", sa.DateTime(), nullable=False),
        sa.Column("revoked_at", sa.DateTime(), nullable=True),
        sa.Column("seen_on", sa.Date(), nullable=True),
        sa.ForeignKeyConstraint(["person_id"], ["persons.id"], name=op.f("fk_tokens_person_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_tokens")),
        sa.UniqueConstraint("digest", name=op.f("uq_tokens_digest")),
    )
    op.create_table(
        "token_sites",
        sa.Column("token_id", sa.Integer(), nullable=False),
        sa.Column("site_id", sa.Integer(), nullable=False),
        sa.ForeignKeyConstraint(["token_id"], ["tokens.id"], name=op.f("fk_token_sites_token_id")),
        sa.ForeignKeyConstraint(["site_id"], ["sites.id"], name=op.f("fk_token_sites_site_id")),
        sa.PrimaryKeyConstraint("token_id", "site_id", name=op.f("pk_token_sites")),
    )
    op.create_table(
        "token_answers",
        sa.Column("token_id", sa.Integer(), nullable=False),
        sa.Column("key", sa.String(length=80), nullable=False),
        sa.Column("digest", sa.String(length=64), nullable=False),
        sa.Column("status", sa.Integer(), nullable=False),
        sa.Column("body", sa.Text(), nullable=False),
        sa.Column("at", sa.DateTime(), nullable=False),
        sa.ForeignKeyConstraint(
            ["token_id"], ["tokens.id"], name=op.f("fk_token_answers_token_id")
        ),
        sa.PrimaryKeyConstraint("token_id", "key", name=op.f("pk_token_answers")),
    )
    op.create_table(
        "token_days",
        sa.Column("token_id", sa.Integer(), nullable=False),
        sa.Column("day", sa.Date(), nullable=False),
        sa.Column("spent_s", sa.Double(), nullable=False),
        sa.ForeignKeyConstraint(["token_id"], ["tokens.id"], name=op.f("fk_token_days_token_id")),
        sa.PrimaryKeyConstraint("token_id", "day", name=op.f("pk_token_days")),
    )


def downgrade() -> None:
    """One step back."""
    for name in ("token_days", "token_answers", "token_sites", "tokens"):
        op.drop_table(name)
