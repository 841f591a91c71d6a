"""What is exported beside checks: stops, refused baselines, and starts without a check."""

from collections.abc import Iterator
from typing import Any

from app.keys import pseudonym
from app.records.events import BaselineObserved, DeviceStopped, StartedWithoutCheck
from app.records.exported_columns import BASELINE, STOP, UNCHECKED
from app.records.kept import Entry
from app.reports.ended_lines import Outside
from app.site.installation import Site
from app.storage import ExportSpan, Reader

KINDS = (DeviceStopped.kind, BaselineObserved.kind, StartedWithoutCheck.kind)


def outside_of_checks(site: Site, reader: Reader, span: ExportSpan) -> Iterator[Outside]:
    """Each with who wrote it, by the columns of the table; of an infusion that is being checked none."""
    patients: dict[str, str] = {}
    for entry, unit, bed in reader.outside_of_checks(span, KINDS):
        told = _told(entry)
        if told is None:
            continue
        infusion = entry.infusion
        if infusion not in patients:
            patients = {infusion: reader.patient_of(infusion)}
        person = reader.find_person(entry.by)
        yield Outside(
            told={
                **told,
                "check": entry.check,
                "infusion": infusion,
                "patient": patients[infusion],
                "unit": unit,
                "bed": bed,
                "at": entry.at,
                "by": pseudonym(site.key, entry.by),
                "name_by": person.printed_name if person else "",
            }
        )


def _told(entry: Entry) -> dict[str, Any] | None:
    match entry.event:
        case DeviceStopped() as stop:
            return {
                "row": STOP,
                "stated_at": stop.stopped_at,
                "why": stop.why,
                "totals": stop.totals,
            }
        case BaselineObserved(below=True) as seen:
            return {
                "row": BASELINE,
                "scale": seen.scale,
                "sedation": seen.sedation,
                "respiratory_rate": seen.respiratory_rate,
                "spo2": seen.spo2,
            }
        case StartedWithoutCheck() as start:
            return {"row": UNCHECKED, "stated_at": start.started_at, "why": start.reason}
        case _:
            return None
