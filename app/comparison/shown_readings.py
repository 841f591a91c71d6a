"""What was typed, by source: the readings that stand beside a finding."""

from app.comparison.case import Case
from app.comparison.fields import FIELD_OF, places_of
from app.comparison.readings import Reading

_WRISTBAND = "patient."


def shown_readings(case: Case, field: str) -> dict[str, str | None]:
    """The text as typed in each source that can hold a field; none for an amount that nobody reads."""
    if field.startswith(_WRISTBAND):
        return _shown_wristband(case, field.removeprefix(_WRISTBAND))
    known = FIELD_OF.get(field)
    if known is None:
        return {}
    shown = {
        f"{clinician}.{source.value}": _typed(entry.source(source).find(field))
        for clinician, entry in case.by_clinician().items()
        for source in places_of(known)
    }
    recorded = case.order_of_record.find(field)
    return shown if recorded is None else {**shown, "record": recorded.typed}


def _shown_wristband(case: Case, key: str) -> dict[str, str | None]:
    shown = {clinician: entry.wristband.get(key) for clinician, entry in case.by_clinician().items()}
    known = {"identifier": case.patient.identifier, "birth_date": case.patient.birth_date}[key]
    return shown if known is None else {**shown, "case": known}


def _typed(reading: Reading | None) -> str | None:
    return None if reading is None else reading.typed
