"""The tables of findings and of ended checks: flat rows for lists, counts and exports (`kept_rows`)."""

from typing import Any

from sqlalchemy import (
    Boolean,
    Column,
    ForeignKeyConstraint,
    Index,
    Integer,
    PrimaryKeyConstraint,
    Table,
    text,
)

from app.storage.schema import metadata
from app.storage.schema import number_column as _number
from app.storage.schema import text_column as _text
from app.storage.schema import time_column as _time

# A finding by its place.
PLACE = ("check", "subject", "round", "number")
# What the list is filtered by: of each there is an index in the order of the list, and one within a unit, so
# that a page of what is rare is found as soon as one of what is common.
FILTERED = ("code", "origin", "severity", "drug", "independence")
# Most have no slip. Each engine takes the index only where a statement says the same, word for word.
SLIP_IS_SAID = text("slip <> ''")
DEVICE_IS_KNOWN = text("device <> ''")


def _in_order(table: str, *filtered: str, **where: Any) -> tuple[Index, Index]:  # noqa: ANN401  # of an index
    """The index of some columns in the order of the list, and the same within a unit."""
    name = "_".join((table, "by", *(filtered or ("time",))))
    return (
        Index(name, *filtered, "compared_at", **where),
        Index(f"{name}_of_unit", "unit", *filtered, "compared_at", **where),
    )


finding = Table(
    "finding",
    metadata,
    _text("check"),
    _text("subject"),
    _number("round"),
    _number("number"),
    _text("infusion"),
    _text("unit"),
    _text("bed"),
    _text("kind"),
    _text("drug"),
    _time("compared_at"),
    _text("severity"),
    _text("code"),
    _text("field"),
    _text("about"),
    _text("clinician"),
    _text("group"),
    _text("origin"),
    _text("slip"),
    _text("factor"),
    Column("repeated", Boolean, nullable=False),
    _text("independence"),
    Column("earlier_look", Boolean, nullable=False),
    _text("pseudonym_a"),
    _text("pseudonym_b"),
    PrimaryKeyConstraint(*PLACE, name="one_finding_a_place"),
    ForeignKeyConstraint(
        ["check", "subject", "round"],
        ["comparison.check", "comparison.subject", "comparison.round"],
        name="finding_of_known_comparison",
    ),
    *_in_order("finding"),
    *(index for name in FILTERED for index in _in_order("finding", name)),
    *_in_order("finding", "slip", sqlite_where=SLIP_IS_SAID, postgresql_where=SLIP_IS_SAID),
)

ended_check = Table(
    "ended_check",
    metadata,
    _text("check"),
    _text("infusion"),
    _text("patient"),
    _text("kind"),
    _text("unit"),
    _text("bed"),
    _text("drug"),
    _text("device"),
    _time("opened_at"),
    _time("joined_at", nullable=True),
    _time("compared_at", nullable=True),
    _time("cleared_at", nullable=True),
    _time("started_at", nullable=True),
    _time("ended_at"),
    _text("how"),
    _text("reason"),
    Column("was_lapsed", Boolean, nullable=False),
    _number("rounds"),
    _number("rounds_voided"),
    _number("rereadings"),
    _number("stops"),
    _number("cautions"),
    _number("notes"),
    _number("exceptions"),
    _number("escalated"),
    _text("independence"),
    Column("earlier_look", Boolean, nullable=False),
    # What the account came to, as it is computed: no number that a clinician read.
    _text("account"),
    _text("account_left"),
    _text("account_difference"),
    _number("edition"),
    _text("format"),
    Column("invented", Boolean, nullable=False),
    _text("engine"),
    _text("policy"),
    _text("library"),
    _text("pseudonym_a"),
    _text("pseudonym_b"),
    PrimaryKeyConstraint("check", name="one_end_a_check"),
    ForeignKeyConstraint(["check"], ["check.id"], name="end_of_known_check"),
    Index("ended_check_by_time", "ended_at"),
    Index("ended_check_by_unit", "unit", "ended_at"),
    Index("ended_check_by_comparison", "compared_at"),
    Index("ended_check_by_infusion", "infusion", "compared_at"),
    # Most sites do not ask for it, and a check may not read it.
    Index(
        "ended_check_by_device",
        "infusion",
        "device",
        sqlite_where=DEVICE_IS_KNOWN,
        postgresql_where=DEVICE_IS_KNOWN,
    ),
)

finding_settled = Table(
    "finding_settled",
    metadata,
    _text("check"),
    _text("subject"),
    _number("round"),
    _number("number"),
    _text("unit"),
    _time("compared_at"),
    _text("settled"),
    _time("settled_at", nullable=True),
    _number("settled_in_round"),
    _text("settled_by"),
    _text("settled_outcome"),
    Column("seconds_to_settle", Integer),
    _text("reason_a"),
    _text("reason_b"),
    PrimaryKeyConstraint(*PLACE, name="settled_once"),
    ForeignKeyConstraint([*PLACE], [f"finding.{name}" for name in PLACE], name="settled_is_a_known_finding"),
    # What a list shows has ended: the database holds it to that.
    ForeignKeyConstraint(["check"], ["ended_check.check"], name="settled_once_its_check_has_ended"),
    *_in_order("finding_settled", "settled"),
)

finding_reached = Table(
    "finding_reached",
    metadata,
    _text("check"),
    _text("subject"),
    _number("round"),
    _number("number"),
    _text("state"),
    _text("person"),
    _text("unit"),
    _time("compared_at"),
    PrimaryKeyConstraint(*PLACE, "state", "person", name="reached_once"),
    ForeignKeyConstraint(
        [*PLACE], [f"finding_settled.{name}" for name in PLACE], name="reached_by_a_settled_finding"
    ),
    *_in_order("finding_reached", "state", "person"),
)

# What can be made again from the rest, in the order in which it is made.
FLAT_ROWS = (finding, ended_check, finding_settled, finding_reached)
