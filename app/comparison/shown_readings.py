"""What was typed, by source: the readings that stand beside a finding."""

from app.comparison.case import Case
from app.comparison.fields import FIELD_OF
from app.comparison.readings import Reading


def shown_readings(case: Case, field: str) -> dict[str, str | None]:
    """The text as typed in each source that can hold a field; none for an amount that nobody reads."""
    if field == "primed_volume":
        return {
            f"{clinician}.device": _typed(entry.primed_volume)
            for clinician, entry in case.by_clinician().items()
        }
    known = FIELD_OF.get(field)
    if known is None:
        return {}
    shown = {
        f"{clinician}.{source.value}": _typed(entry.source(source).find(field))
        for clinician, entry in case.by_clinician().items()
        for source in known.sources
        if source in case.reads
    }
    recorded, of_case = case.order_of_record.find(field), case.patient.find(field)
    if recorded is not None:
        shown["record"] = recorded.typed
    if of_case is not None:
        shown["case"] = of_case.typed
    return shown


def _typed(reading: Reading | None) -> str | None:
    return None if reading is None else reading.typed
