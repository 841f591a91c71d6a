"""What was issued, as the judges of a check are told of it, and what was put on of it."""

from collections.abc import Iterable, Mapping
from dataclasses import replace
from typing import Any

from app.records.issued import Issued, issued_in, out_of
from app.records.kept import Entry
from app.records.kinds import Given, Kind
from app.records.known import Known
from app.storage import OfInfusions, Reader


def issued_of(reader: Reader, infusion: str, *, before: int | None = None) -> tuple[Issued, ...]:
    """All that was issued for an infusion, as far as the log tells it before a position."""
    return issued_in(_so_far(reader.course(infusion), before))


def with_issued(known: Known, kind: Kind, reader: Reader, infusion: str, *, log: Iterable[Entry]) -> Known:
    """What the infusion knows, with what was issued for it by its `log`, and what is out for any other."""
    if Given.ISSUED not in kind.given:
        return known
    others = reader.all_infusions_that(OfInfusions.ISSUED)
    elsewhere = [
        each for other in others if other.id != infusion for each in out_of(issued_of(reader, other.id))
    ]
    return _told(known, issued_in(log), elsewhere)


def with_issued_then(
    known: Known, kind: Kind, reader: Reader, infusion: str, *, before: int, kept: Iterable[Mapping[str, Any]]
) -> Known:
    """The same as it was before a position; of other infusions what a comparison has kept is looked for."""
    if Given.ISSUED not in kind.given:
        return known
    elsewhere = [int(each["issue"]) for each in kept if not each["here"]]
    there = [each for issue in elsewhere for each in _out_then(reader, issue, infusion, before)]
    return _told(known, issued_of(reader, infusion, before=before), there)


def _out_then(reader: Reader, issue: int, infusion: str, before: int) -> Iterable[Issued]:
    for entry in reader.log_entries(after=issue - 1, limit=1):
        if entry.infusion and entry.infusion != infusion:
            then = out_of(issued_of(reader, entry.infusion, before=before))
            yield from (each for each in then if each.position == issue)


def _told(known: Known, here: Iterable[Issued], elsewhere: Iterable[Issued]) -> Known:
    # The one that is on is known by its label, however it came.
    lot = known.syringe.get("lot") or ""
    on = {"issue": "", "number": lot, "volume": "", "sealed": True, "out": False, "here": True}
    return replace(
        known,
        issued=(
            *(each.as_known(here=True) for each in here),
            *((on,) if lot else ()),
            *(each.as_known(here=False) for each in elsewhere),
        ),
    )


def _so_far(log: Iterable[Entry], before: int | None) -> Iterable[Entry]:
    return (each for each in log if before is None or each.position < before)
