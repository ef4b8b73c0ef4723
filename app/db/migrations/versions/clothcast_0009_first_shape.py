"""The first shape of the database, the one that is released.

Its number goes on from shapes before the first release, which are refused: a database that was
brought to the last of them is in this one.
"""

import sqlalchemy as sa
from alembic import op

revision = "clothcast_0009"
down_revision = None
branch_labels = None
depends_on = None

TABLES = (
    "persons",
    "requests",
    "sites",
    "changes",
    "counts",
    "days",
    "input_values",
    "plans",
    "results",
    "vehicle_classes",
    "weather",
    "scenarios",
    "studies",
    "weighings",
    "cloth_sets",
    "cloth_events",
    "calendar_entries",
    "staff",
    "staff_shifts",
)
"""In the order in which they are made: a table after those that it refers to."""


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
    op.create_index(op.f("ix_changes_site_id_id"), "changes", ["site_id", "id"])
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
        sa.Column("is_final", sa.Boolean(), nullable=False, server_default=sa.text("1")),
        sa.ForeignKeyConstraint(["site_id"], ["sites.id"], name=op.f("fk_results_site_id")),
        sa.PrimaryKeyConstraint("key", name=op.f("pk_results")),
    )
    op.create_index(op.f("ix_results_site_id_at"), "results", ["site_id", "at"])
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
    op.create_table(
        "studies",
        sa.Column("key", sa.String(length=80), nullable=False),
        sa.Column("kind", sa.String(length=20), nullable=False),
        sa.Column("site_id", sa.Integer(), nullable=False),
        sa.Column("day", sa.Date(), nullable=False),
        sa.Column("person_id", sa.Integer(), nullable=False),
        sa.Column("asked_at", sa.DateTime(), nullable=False),
        sa.Column("state", sa.String(length=20), nullable=False),
        sa.Column("done", sa.Integer(), nullable=False),
        sa.Column("total", sa.Integer(), nullable=False),
        sa.Column("sentence", sa.Text(), nullable=False),
        sa.Column("holder", sa.String(length=40), nullable=False),
        sa.Column("began_at", sa.DateTime(), nullable=True),
        sa.Column("beat_at", sa.DateTime(), nullable=True),
        sa.Column("lease_until", sa.DateTime(), nullable=True),
        sa.ForeignKeyConstraint(["person_id"], ["persons.id"], name=op.f("fk_studies_person_id")),
        sa.ForeignKeyConstraint(["site_id"], ["sites.id"], name=op.f("fk_studies_site_id")),
        sa.PrimaryKeyConstraint("key", name=op.f("pk_studies")),
    )
    op.create_index(op.f("ix_studies_site_id_asked_at"), "studies", ["site_id", "asked_at"])
    op.create_table(
        "weighings",
        sa.Column("site_id", sa.Integer(), nullable=False),
        sa.Column("position", sa.Integer(), nullable=False),
        sa.Column("kind", sa.String(length=10), nullable=False),
        sa.Column("day", sa.Date(), nullable=False),
        sa.Column("at_s", sa.Double(), nullable=False),
        sa.Column("weight_kg", sa.Double(), nullable=False),
        sa.Column("dry_kg", sa.Double(), nullable=False),
        sa.Column("rule", sa.Text(), nullable=False),
        sa.Column("cars", sa.Integer(), nullable=False),
        sa.Column("damp_cars", sa.Integer(), nullable=False),
        sa.Column("cars_so_far", sa.Integer(), nullable=False),
        sa.Column("weather", sa.Text(), nullable=False),
        sa.ForeignKeyConstraint(["site_id"], ["sites.id"], name=op.f("fk_weighings_site_id")),
        sa.PrimaryKeyConstraint("site_id", "position", name=op.f("pk_weighings")),
    )
    op.create_table(
        "cloth_sets",
        sa.Column("site_id", sa.Integer(), nullable=False),
        sa.Column("position", sa.Integer(), nullable=False),
        sa.Column("name", sa.String(length=40), nullable=False),
        sa.Column("bought", sa.Date(), nullable=True),
        sa.Column("cars_before", sa.Double(), nullable=False),
        sa.ForeignKeyConstraint(["site_id"], ["sites.id"], name=op.f("fk_cloth_sets_site_id")),
        sa.PrimaryKeyConstraint("site_id", "position", name=op.f("pk_cloth_sets")),
    )
    op.create_table(
        "cloth_events",
        sa.Column("site_id", sa.Integer(), nullable=False),
        sa.Column("position", sa.Integer(), nullable=False),
        sa.Column("day", sa.Date(), nullable=False),
        sa.Column("at_s", sa.Double(), nullable=False),
        sa.Column("kind", sa.String(length=10), nullable=False),
        sa.Column("name", sa.String(length=40), nullable=False),
        sa.Column("reason", sa.String(length=10), nullable=False),
        sa.Column("cars", sa.Double(), nullable=True),
        sa.Column("length_m", sa.Double(), nullable=True),
        sa.Column("dry_kg", sa.Double(), nullable=True),
        sa.Column("torn", sa.Integer(), nullable=True),
        sa.Column("hoods", sa.Integer(), nullable=True),
        sa.Column("damp_hoods", sa.Integer(), nullable=True),
        sa.ForeignKeyConstraint(["site_id"], ["sites.id"], name=op.f("fk_cloth_events_site_id")),
        sa.PrimaryKeyConstraint("site_id", "position", name=op.f("pk_cloth_events")),
    )
    op.create_table(
        "calendar_entries",
        sa.Column("uid", sa.String(length=80), nullable=False),
        sa.Column("site_id", sa.Integer(), nullable=False),
        sa.Column("key", sa.String(length=40), nullable=False),
        sa.Column("day", sa.Date(), nullable=False),
        sa.Column("start_s", sa.Double(), nullable=True),
        sa.Column("minutes", sa.Double(), nullable=False),
        sa.Column("summary", sa.Text(), nullable=False),
        sa.Column("description", sa.Text(), nullable=False),
        sa.Column("sequence", sa.Integer(), nullable=False),
        sa.Column("is_cancelled", sa.Boolean(), nullable=False),
        sa.Column("at", sa.DateTime(), nullable=False),
        sa.ForeignKeyConstraint(
            ["site_id"], ["sites.id"], name=op.f("fk_calendar_entries_site_id")
        ),
        sa.PrimaryKeyConstraint("uid", name=op.f("pk_calendar_entries")),
    )
    op.create_index(op.f("ix_calendar_entries_site_id_day"), "calendar_entries", ["site_id", "day"])
    op.create_table(
        "staff",
        sa.Column("site_id", sa.Integer(), nullable=False),
        sa.Column("position", sa.Integer(), nullable=False),
        sa.Column("name", sa.String(length=40), nullable=False),
        sa.Column("roles", sa.Text(), nullable=False),
        sa.Column("wage_per_h", sa.Double(), nullable=False),
        sa.Column("least_h", sa.Double(), nullable=False),
        sa.Column("most_h", sa.Double(), nullable=False),
        sa.Column("away", sa.Text(), nullable=False),
        sa.ForeignKeyConstraint(["site_id"], ["sites.id"], name=op.f("fk_staff_site_id")),
        sa.PrimaryKeyConstraint("site_id", "position", name=op.f("pk_staff")),
    )
    op.create_table(
        "staff_shifts",
        sa.Column("site_id", sa.Integer(), nullable=False),
        sa.Column("day", sa.Date(), nullable=False),
        sa.Column("name", sa.String(length=40), nullable=False),
        sa.Column("role", sa.String(length=40), nullable=False),
        sa.Column("start_s", sa.Double(), nullable=False),
        sa.Column("end_s", sa.Double(), nullable=False),
        sa.Column("break_start_s", sa.Double(), nullable=False),
        sa.Column("break_end_s", sa.Double(), nullable=False),
        sa.ForeignKeyConstraint(["site_id"], ["sites.id"], name=op.f("fk_staff_shifts_site_id")),
        sa.PrimaryKeyConstraint("site_id", "day", "name", name=op.f("pk_staff_shifts")),
    )


def downgrade() -> None:
    """One step back."""
    for name in reversed(TABLES):
        op.drop_table(name)
