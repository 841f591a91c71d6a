"""What the pages of all documents on paper share: their templates, their style sheet, whose they are."""

from collections.abc import Mapping
from functools import cache

from jinja2 import Environment, FileSystemLoader, StrictUndefined

from app.config import root
from app.reports.times import day_in_words
from app.words.names import INVENTED_RULES, nurse_words


@cache
def environment() -> Environment:
    """The templates of paper."""
    made = Environment(
        loader=FileSystemLoader(root() / "templates" / "reports"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    made.filters["nurse"] = nurse_words
    made.globals["invented_rules"] = INVENTED_RULES
    return made


def style_sheet() -> str:
    """The one style sheet (CSS)."""
    return (root() / "templates" / "reports" / "record.css").read_text(encoding="utf-8")


def patient_words(patient: Mapping[str, str]) -> str:
    """Whose a document is: `DM-40417, born 9 April 1961`; this stands on every page."""
    born = patient["birth_date"]
    parts = (patient["identifier"], f"born {day_in_words(born)}" if born else "")
    return ", ".join(each for each in parts if each)
