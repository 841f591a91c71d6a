"""What was issued beside what two read on a label; and at the end, what was issued and is nowhere.

A syringe is known by the number that was written when it was issued: the serial or the lot on its label.
"""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import replace
from typing import Any

from app.judging.findings import stop
from app.judging.in_hand import is_of_lot
from app.records.fields import field_of
from app.records.followup import OF_ACCOUNT, Found
from app.records.issued import Issued, in_millilitres, out_of
from app.records.kept import LETTERS
from app.records.sources import Source

Issues = Sequence[Mapping[str, Any]]

_LOT = field_of(Source.LABEL, "lot").finding
_LEFT = field_of(Source.TOTALS, "left").finding


def bearing_on(issued: Issues, lot: str) -> tuple[Mapping[str, Any], ...]:
    """Those issued for the infusion itself, and of others' the ones that the label may be."""
    return tuple(each for each in issued if each["here"] or (lot and is_of_lot(lot, each["number"])))


def judge_label(issued: Issues, *, lot: str, volume: str) -> Iterator[Found]:
    """The label of what is put on, `volume` as both read it; nothing where no syringe was issued."""
    if not lot:
        return
    of_number = [each for each in issued if is_of_lot(lot, each["number"])]
    here = [each for each in issued if each["here"]]
    own = [each for each in of_number if each["here"]]
    if own:
        yield from _own(own, lot=lot, volume=in_millilitres(volume))
    elif of_number:
        yield _found(
            "issued-elsewhere",
            lot,
            "A syringe with this number was issued for another infusion, and is not put on there. "
            "Look whose it is. It is used here only once it was issued here.",
        )
    elif any(each["out"] for each in here):
        yield _of_account(
            _found(
                "issued-otherwise",
                lot,
                "Another syringe was issued for this infusion, and this one was not: "
                "say where it comes from, and where the other one is.",
            )
        )


def _own(own: Issues, *, lot: str, volume: str) -> Iterator[Found]:
    """One that was put on before was judged then."""
    out = [each for each in own if each["out"]]
    if not out:
        return
    alike = [each for each in out if each["volume"] == volume]
    if not all(each["sealed"] for each in (alike or out)[:1]):
        yield _found(
            "issued-unsealed",
            lot,
            "Its seal was broken when it was issued. It is not used: it goes back, and another one comes.",
        )
    if volume and not alike:
        yield _of_account(
            _found(
                "issued-volume-differs",
                lot,
                f"It was issued with {out[0]['volume']}, and its label says {volume}.",
            )
        )


def judge_end(issued: Issues) -> Iterator[Found]:
    """Nothing is in hand after the end, and so nothing that was issued is out."""
    out = [each for each in issued if each["here"] and each["out"]]
    if out:
        what = "A syringe was" if len(out) == 1 else f"{len(out)} syringes were"
        says = f"{what} issued and neither put on nor given back: give back what is unopened."
        found = stop(code="issued-out", field=_LEFT, readings={}, says=says, origin="account")
        yield replace(found, about=OF_ACCOUNT)


def _found(code: str, lot: str, says: str) -> Found:
    # The lot is read by one for both.
    readings = {f"{letter}.{Source.LABEL}": lot for letter in LETTERS}
    return stop(code=code, field=_LOT, readings=readings, says=says, origin="")


def _of_account(found: Found) -> Found:
    return replace(found, about=OF_ACCOUNT)


def find_issued(issued: Iterable[Issued], *, lot: str, volume: str) -> Issued | None:
    """The one of those that are out whose number a label says; of several the first with its volume."""
    of_number = [each for each in out_of(issued) if is_of_lot(lot, each.event.number)]
    alike = (each for each in of_number if each.event.exact == in_millilitres(volume))
    return next(alike, next(iter(of_number), None))
