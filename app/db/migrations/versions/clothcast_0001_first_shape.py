"""First shape of the database."""

import sqlalchemy as sa
from alembic import op

revision = "clothcast_0001"
down_revision = None
branch_labels = None
depends_on = None


def upgrade() -> None:
    """One step on."""
    persons = op.create_table(
        "persons",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("name", sa.String(length=60), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_persons")),
        sa.UniqueConstraint("name", name=op.f("uq_persons_name")),
    )
    op.bulk_insert(persons, [{"id": 1, "name": "site manager"}])
    op.create_table(
        "requests",
        sa.Column("key", sa.String(length=120), nullable=False),
        sa.Column("digest", sa.String(length=64), nullable=False),
        sa.Column("at", sa.DateTime(), nullable=False),
        sa.Column("outcome", sa.Text(), nullable=False),
        sa.PrimaryKeyConstraint("key", "digest", name=op.f("pk_requests")),
    )
    op.create_table(
        "sites",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("slug", sa.String(length=80), nullable=False),
        sa.Column("name", sa.String(length=60), nullable=False),
        sa.Column("timezone", sa.String(length=60), nullable=False),
        sa.Column("units", sa.String(length=2), nullable=False),
        sa.Column("reference_class", sa.String(length=60), nullable=False),
        sa.Column("counted", sa.String(length=10), nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_sites")),
        sa.UniqueConstraint("name", name=op.f("uq_sites_name")),
        sa.UniqueConstraint("slug", name=op.f("uq_sites_slug")),
    )
    op.create_table(
        "changes",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("at", sa.DateTime(), nullable=False),
        sa.Column("person_id", sa.Integer(), nullable=False),
        sa.Column("site_id", sa.Integer(), nullable=False),
        sa.Column("what", sa.String(length=20), nullable=False),
        sa.Column("field", sa.String(length=80), nullable=False),
        sa.Column("old", sa.Text(), nullable=True),
        sa.Column("new", sa.Text(), nullable=True),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.Column("request_key", sa.String(length=120), nullable=False),
        sa.ForeignKeyConstraint(["person_id"], ["persons.id"], name=op.f("fk_changes_person_id")),
        sa.ForeignKeyConstraint(["site_id"], ["sites.id"], name=op.f("fk_changes_site_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_changes")),
    )
    with op.batch_alter_table("changes", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_changes_site_id_id"), ["site_id", "id"], unique=False)

    op.create_table(
        "counts",
        sa.Column("site_id", sa.Integer(), nullable=False),
        sa.Column("day", sa.Date(), nullable=False),
        sa.Column("hour", sa.Integer(), nullable=False),
        sa.Column("fold", sa.Integer(), nullable=False),
        sa.Column("cars", sa.Integer(), nullable=False),
        sa.ForeignKeyConstraint(["site_id"], ["sites.id"], name=op.f("fk_counts_site_id")),
        sa.PrimaryKeyConstraint("site_id", "day", "hour", "fold", name=op.f("pk_counts")),
        sqlite_with_rowid=False,
    )
    op.create_table(
        "days",
        sa.Column("site_id", sa.Integer(), nullable=False),
        sa.Column("day", sa.Date(), nullable=False),
        sa.Column("kind", sa.String(length=10), nullable=False),
        sa.Column("note", sa.Text(), nullable=False),
        sa.ForeignKeyConstraint(["site_id"], ["sites.id"], name=op.f("fk_days_site_id")),
        sa.PrimaryKeyConstraint("site_id", "day", "kind", name=op.f("pk_days")),
    )
    op.create_table(
        "input_values",
        sa.Column("site_id", sa.Integer(), nullable=False),
        sa.Column("name", sa.String(length=60), nullable=False),
        sa.Column("value", sa.Text(), nullable=False),
        sa.Column("given", sa.Boolean(), nullable=False),
        sa.ForeignKeyConstraint(["site_id"], ["sites.id"], name=op.f("fk_input_values_site_id")),
        sa.PrimaryKeyConstraint("site_id", "name", name=op.f("pk_input_values")),
    )
    op.create_table(
        "plans",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("site_id", sa.Integer(), nullable=False),
        sa.Column("day", sa.Date(), nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.Column("expect", sa.Text(), nullable=False),
        sa.ForeignKeyConstraint(["site_id"], ["sites.id"], name=op.f("fk_plans_site_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_plans")),
        sa.UniqueConstraint("site_id", "day", name=op.f("uq_plans_site_id_day")),
    )
    op.create_table(
        "results",
        sa.Column("key", sa.String(length=80), nullable=False),
        sa.Column("site_id", sa.Integer(), nullable=False),
        sa.Column("day", sa.Date(), nullable=False),
        sa.Column("at", sa.DateTime(), nullable=False),
        sa.Column("payload", sa.Text(), nullable=False),
        sa.ForeignKeyConstraint(["site_id"], ["sites.id"], name=op.f("fk_results_site_id")),
        sa.PrimaryKeyConstraint("key", name=op.f("pk_results")),
    )
    with op.batch_alter_table("results", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_results_site_id_at"), ["site_id", "at"], unique=False)

    op.create_table(
        "vehicle_classes",
        sa.Column("site_id", sa.Integer(), nullable=False),
        sa.Column("position", sa.Integer(), nullable=False),
        sa.Column("key", sa.String(length=60), nullable=False),
        sa.Column("label", sa.String(length=60), nullable=False),
        sa.Column("numbers", sa.Text(), nullable=False),
        sa.ForeignKeyConstraint(["site_id"], ["sites.id"], name=op.f("fk_vehicle_classes_site_id")),
        sa.PrimaryKeyConstraint("site_id", "position", name=op.f("pk_vehicle_classes")),
    )
    op.create_table(
        "weather",
        sa.Column("site_id", sa.Integer(), nullable=False),
        sa.Column("day", sa.Date(), nullable=False),
        sa.Column("hour", sa.Integer(), nullable=False),
        sa.Column("fold", sa.Integer(), nullable=False),
        sa.Column("temp_c", sa.Double(), nullable=False),
        sa.Column("humidity", sa.Double(), nullable=False),
        sa.Column("rain_mm", sa.Double(), nullable=False),
        sa.ForeignKeyConstraint(["site_id"], ["sites.id"], name=op.f("fk_weather_site_id")),
        sa.PrimaryKeyConstraint("site_id", "day", "hour", "fold", name=op.f("pk_weather")),
        sqlite_with_rowid=False,
    )
    op.create_table(
        "scenarios",
        sa.Column("plan_id", sa.Integer(), nullable=False),
        sa.Column("position", sa.Integer(), nullable=False),
        sa.Column("name", sa.String(length=60), nullable=False),
        sa.Column("rule", sa.Text(), nullable=False),
        sa.Column("cloth", sa.Text(), nullable=False),
        sa.Column("changes", sa.Text(), nullable=False),
        sa.ForeignKeyConstraint(["plan_id"], ["plans.id"], name=op.f("fk_scenarios_plan_id")),
        sa.PrimaryKeyConstraint("plan_id", "position", name=op.f("pk_scenarios")),
    )


def downgrade() -> None:
    """One step back."""
    op.drop_table("scenarios")
    op.drop_table("weather")
    op.drop_table("vehicle_classes")
    with op.batch_alter_table("results", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_results_site_id_at"))

    op.drop_table("results")
    op.drop_table("plans")
    op.drop_table("input_values")
    op.drop_table("days")
    op.drop_table("counts")
    with op.batch_alter_table("changes", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_changes_site_id_id"))

    op.drop_table("changes")
    op.drop_table("sites")
    op.drop_table("requests")
    op.drop_table("persons")
