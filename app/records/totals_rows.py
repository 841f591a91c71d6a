"""The rows of the table of fields that are read of a device that has run: its totals, and what is left.

They change while they are read: the account says whether two readings of them can both be right.
"""

from functools import partial

from app.records.measures import TOTAL_MASS, TOTAL_VOLUME
from app.records.sources import Field, Form, JudgedBy, Source

_of_totals = partial(
    Field,
    sources=(Source.TOTALS,),
    judged_by=(JudgedBy.ACCOUNT,),
    none="Not shown",
    # They go on while they are read: one of them alone, read later than the others, belongs to no moment.
    read_with=("total_amount", "total_volume", "presses", "doses", "left", "read_at"),
)
_TOTAL_HINT = "As the device shows it, since its totals were last cleared."

TOTALS_ROWS = (
    _of_totals(
        name="total_amount",
        label="Total given, as mass",
        words="the total given, as mass",
        form=Form.QUANTITY,
        measure=TOTAL_MASS,
        hint=_TOTAL_HINT,
    ),
    _of_totals(
        name="total_volume",
        label="Total given, as volume",
        words="the total given, as volume",
        form=Form.QUANTITY,
        measure=TOTAL_VOLUME,
        hint=_TOTAL_HINT,
    ),
    _of_totals(
        name="presses",
        label="Presses of the button",
        words="the presses of the button",
        form=Form.COUNT,
        hint="All of them, answered with a dose or not.",
    ),
    _of_totals(
        name="doses",
        label="Doses given",
        words="the doses given",
        form=Form.COUNT,
        hint="How many presses were answered with a dose.",
    ),
    _of_totals(
        name="left",
        label="Volume left in the syringe",
        words="the volume left in the syringe",
        form=Form.QUANTITY,
        measure=TOTAL_VOLUME,
        none="Unreadable",
        hint="By the scale on the barrel, with your eye level with the plunger's front edge.",
    ),
    _of_totals(
        name="read_at",
        label="Totals read at",
        words="when the totals were read",
        form=Form.MOMENT,
        none="",
        optional=True,
        stamped=True,
    ),
)
