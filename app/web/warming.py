"""Load what the first requests of a process would load: nobody at a bedside waits for a library."""

import gc

from app.comparison import evaluate, read_case
from app.comparison.case import Case
from app.quantities import Dimension, parse_quantity
from app.records.formats import CASE
from app.reports.chart import For, charts_of
from app.reports.page import style_sheet
from app.reports.renderer import renderer_content

_SETTINGS = {
    "drug": "morphine",
    "concentration": "1 mg/mL",
    "mode": "demand",
    "demand_dose": "1 mg",
    "lockout": "10 min",
    "limit": {"amount": "20 mg", "window": "4 h"},
    "loading_dose": "1 mg",
}
_ENTRIES = [
    {
        "clinician": letter,
        "order": _SETTINGS,
        "label": {"drug": "morphine", "concentration": "1 mg/mL"},
        "device": {**_SETTINGS, "demand_dose": "2 mg"},
    }
    for letter in ("A", "B")
]
_CASE = {"format": CASE.newest, "entries": _ENTRIES}


def warm_up() -> None:
    """Read a dose, compare a case, draw it, and make a page of paper of the picture."""
    from app.reports.pdf import make_pdf  # noqa: PLC0415  # loading it is half of what is wanted

    parse_quantity("1 mg", Dimension.MASS)
    case = read_case(_CASE)
    assert isinstance(case, Case)  # noqa: S101  # our own
    evaluate(case)
    renderer_content()
    pictures = "".join(each.svg for each in charts_of(_CASE, For.PAPER).values())
    make_pdf(f"<!DOCTYPE html><html lang=en><title>Warm</title><b>{pictures}</b></html>", style_sheet())
    # All of that stays: collecting garbage through it took a seventh of a second each time, in some answer.
    gc.freeze()
