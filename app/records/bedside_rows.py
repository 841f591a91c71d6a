"""The rows of the table of fields that are looked at when one nurse hands over to another: patient and line.

Two who look minutes apart may well see different things: each is judged by itself, and the worse counts.
"""

from functools import partial

from app.records.measures import BREATHS
from app.records.sources import Field, Form, JudgedBy, Source

_of_bedside = partial(Field, sources=(Source.BEDSIDE,), judged_by=(JudgedBy.PROTOCOL,))
_pain = partial(
    _of_bedside,
    form=Form.CHOICE,
    choices=tuple(str(number) for number in range(11)),
    none="Cannot say",
    hint="From none to the worst there is.",
)

AS_IT_SHOULD_BE = "as-it-should-be"
BY_THE_PATIENT = "by-the-patient-alone"

BEDSIDE_ROWS = (
    _of_bedside(
        name="sedation",
        label="Sedation",
        words="the level of sedation",
        form=Form.LEVEL,
        hint="Before you speak to the patient.",
    ),
    _of_bedside(
        name="respiratory_rate",
        label="Respiratory rate",
        words="the respiratory rate",
        form=Form.QUANTITY,
        measure=BREATHS,
        hint="Count breaths for a whole minute.",
    ),
    _of_bedside(
        name="line_traced",
        label="Line and site",
        words="how line and site are",
        form=Form.CHOICE,
        choices=(AS_IT_SHOULD_BE, "not-as-it-should-be"),
        hint="From the syringe along the line to the site, with the hand.",
    ),
    _of_bedside(
        name="button_used",
        label="The button",
        words="who presses the button",
        form=Form.CHOICE,
        choices=(BY_THE_PATIENT, "cannot-use-it", "others-may-press"),
        hint="Ask: can you press it, and does anybody press it for you?",
    ),
    _pain(name="pain_at_rest", label="Pain at rest", words="the pain at rest"),
    _pain(name="pain_on_movement", label="Pain on movement", words="the pain on movement"),
)
