"""The first shape of the database, the one that is released.

Its number goes on from shapes before the first release, which are refused: a database that was
brought to the last of them is in this one.
"""

from collections.abc import Mapping, Sequence

import sqlalchemy as sa
from alembic import op

revision = "clothcast_0010"
down_revision = None
branch_labels = None
depends_on = None

Kind = sa.Integer | sa.Double[float] | sa.Boolean | sa.Date | sa.DateTime | sa.String
REAL: sa.Double[float] = sa.Double()
WHOLE, FLAG, DAY, MOMENT = sa.Integer(), sa.Boolean(), sa.Date(), sa.DateTime()
TEXT = sa.Text()
OWNERS = {"site_id": "sites.id", "person_id": "persons.id", "plan_id": "plans.id"}
"""What a column of the name refers to."""
TABLES = (
    "persons", "requests", "sites", "changes", "counts", "days", "input_values", "plans",
    "results", "vehicle_classes", "weather", "scenarios", "studies", "weighings", "cloth_sets",
    "cloth_events", "calendar_entries", "staff", "staff_shifts",
)  # fmt: skip
"""In the order in which they are made: a table after those that it refers to."""


def short(most: int) -> sa.String:
    """A text of at most so many characters."""
    return sa.String(length=most)


def make(
    name: str,
    key: Sequence[str],
    columns: Mapping[str, Kind],
    *,
    may_be_null: Sequence[str] = (),
    unique: Sequence[Sequence[str]] = (),
    defaults: Mapping[str, sa.TextClause] | None = None,
    with_rowid: bool = True,
) -> sa.Table:
    """A table whose constraints have their names, so that a later step can speak of each."""
    made = [
        sa.Column(
            column,
            kind,
            nullable=column in may_be_null,
            server_default=(defaults or {}).get(column),
        )
        for column, kind in columns.items()
    ]
    refers = [
        sa.ForeignKeyConstraint([column], [OWNERS[column]], name=op.f(f"fk_{name}_{column}"))
        for column in columns
        if column in OWNERS
    ]
    once = [sa.UniqueConstraint(*told, name=op.f(f"uq_{name}_{'_'.join(told)}")) for told in unique]
    keyed = sa.PrimaryKeyConstraint(*key, name=op.f(f"pk_{name}"))
    return op.create_table(name, *made, *refers, keyed, *once, sqlite_with_rowid=with_rowid)


def index(table: str, *columns: str) -> None:
    """An index on columns of a table."""
    op.create_index(op.f(f"ix_{table}_{'_'.join(columns)}"), table, list(columns))


def upgrade() -> None:
    """One step on."""
    persons = make("persons", ["id"], {"id": WHOLE, "name": short(60)}, unique=[["name"]])
    op.bulk_insert(persons, [{"id": 1, "name": "site manager"}])
    make(
        "requests", ["key", "digest"],
        {"key": short(120), "digest": short(64), "at": MOMENT, "outcome": TEXT},
    )  # fmt: skip
    make(
        "sites", ["id"],
        {
            "id": WHOLE, "slug": short(80), "name": short(60), "timezone": short(60),
            "units": short(2), "reference_class": short(60), "counted": short(10),
            "version": WHOLE,
        },
        unique=[["name"], ["slug"]],
    )  # fmt: skip
    make(
        "changes", ["id"],
        {
            "id": WHOLE, "at": MOMENT, "person_id": WHOLE, "site_id": WHOLE, "what": short(20),
            "field": short(80), "old": TEXT, "new": TEXT, "version": WHOLE,
            "request_key": short(120),
        },
        may_be_null=["old", "new"],
    )  # fmt: skip
    index("changes", "site_id", "id")
    hour: dict[str, Kind] = {"site_id": WHOLE, "day": DAY, "hour": WHOLE, "fold": WHOLE}
    make("counts", list(hour), {**hour, "cars": WHOLE}, with_rowid=False)
    make(
        "weather", list(hour), {**hour, "temp_c": REAL, "humidity": REAL, "rain_mm": REAL},
        with_rowid=False,
    )  # fmt: skip
    make(
        "days", ["site_id", "day", "kind"],
        {"site_id": WHOLE, "day": DAY, "kind": short(10), "note": TEXT},
    )  # fmt: skip
    make(
        "input_values", ["site_id", "name"],
        {"site_id": WHOLE, "name": short(60), "value": TEXT, "given": FLAG},
    )  # fmt: skip
    make(
        "plans", ["id"],
        {"id": WHOLE, "site_id": WHOLE, "day": DAY, "version": WHOLE, "expect": TEXT},
        unique=[["site_id", "day"]],
    )  # fmt: skip
    make(
        "scenarios", ["plan_id", "position"],
        {
            "plan_id": WHOLE, "position": WHOLE, "name": short(60), "rule": TEXT, "cloth": TEXT,
            "changes": TEXT,
        },
    )  # fmt: skip
    make(
        "results", ["key"],
        {
            "key": short(80), "site_id": WHOLE, "day": DAY, "at": MOMENT, "payload": TEXT,
            "is_final": FLAG,
        },
        defaults={"is_final": sa.text("1")},
    )  # fmt: skip
    index("results", "site_id", "at")
    make(
        "studies", ["key"],
        {
            "key": short(80), "kind": short(20), "site_id": WHOLE, "day": DAY, "person_id": WHOLE,
            "asked_at": MOMENT, "state": short(20), "done": WHOLE, "total": WHOLE,
            "sentence": TEXT, "holder": short(40), "began_at": MOMENT, "beat_at": MOMENT,
            "lease_until": MOMENT,
        },
        may_be_null=["began_at", "beat_at", "lease_until"],
    )  # fmt: skip
    index("studies", "site_id", "asked_at")
    make(
        "calendar_entries", ["uid"],
        {
            "uid": short(80), "site_id": WHOLE, "key": short(40), "day": DAY, "start_s": REAL,
            "minutes": REAL, "summary": TEXT, "description": TEXT, "sequence": WHOLE,
            "is_cancelled": FLAG, "at": MOMENT,
        },
        may_be_null=["start_s"],
    )  # fmt: skip
    index("calendar_entries", "site_id", "day")
    place: dict[str, Kind] = {"site_id": WHOLE, "position": WHOLE}
    placed = list(place)
    make(
        "vehicle_classes", placed,
        {**place, "key": short(60), "label": short(60), "numbers": TEXT},
    )  # fmt: skip
    make(
        "weighings", placed,
        {
            **place, "kind": short(10), "day": DAY, "at_s": REAL, "weight_kg": REAL,
            "dry_kg": REAL, "rule": TEXT, "cars": WHOLE, "damp_cars": WHOLE,
            "cars_so_far": WHOLE, "weather": TEXT,
        },
    )  # fmt: skip
    make(
        "cloth_sets", placed, {**place, "name": short(40), "bought": DAY, "cars_before": REAL},
        may_be_null=["bought"],
    )  # fmt: skip
    make(
        "cloth_events", placed,
        {
            **place, "day": DAY, "at_s": REAL, "kind": short(10), "name": short(40),
            "reason": short(10), "cars": REAL, "length_m": REAL, "dry_kg": REAL, "torn": WHOLE,
            "hoods": WHOLE, "damp_hoods": WHOLE,
        },
        may_be_null=["cars", "length_m", "dry_kg", "torn", "hoods", "damp_hoods"],
    )  # fmt: skip
    make(
        "staff", placed,
        {
            **place, "name": short(40), "roles": TEXT, "wage_per_h": REAL, "least_h": REAL,
            "most_h": REAL, "away": TEXT,
        },
    )  # fmt: skip
    make(
        "staff_shifts", ["site_id", "day", "name"],
        {
            "site_id": WHOLE, "day": DAY, "name": short(40), "role": short(40), "start_s": REAL,
            "end_s": REAL, "break_start_s": REAL, "break_end_s": REAL,
        },
    )  # fmt: skip


def downgrade() -> None:
    """One step back."""
    for name in reversed(TABLES):
        op.drop_table(name)
