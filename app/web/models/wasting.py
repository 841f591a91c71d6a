"""Drug that goes outside of any check, as its page shows it: where, and what waits for a witness."""

from dataclasses import dataclass
from typing import Any

from app.records.taken_back import IN_SYRINGE, OUTSIDE
from app.web.models.lists import place
from app.web.models.taking_back import WaitingShown
from app.words import taken_back
from app.workflow.wasting import WasteSeen
from app.workflow.witnessing import WITHIN


@dataclass(frozen=True, kw_only=True)
class WastePage:
    """Nothing in hand is said by a volume; `before` is what its author wrote before, but for how much."""

    infusion: str
    place: str
    last: int
    before: dict[str, Any]
    waiting: WaitingShown | None


def waste_page(seen: WasteSeen) -> WastePage:
    """The page for whoever writes it down."""
    return WastePage(
        infusion=seen.infusion,
        place=place(seen.unit, seen.bed),
        last=seen.last,
        before=_before(seen),
        waiting=_waiting(seen),
    )


def _before(seen: WasteSeen) -> dict[str, Any]:
    if seen.apart is None:
        return {}
    what = _what(seen.apart.held_in, seen.apart.way)
    return {"what": what, "syringe": seen.apart.syringe, "lot": seen.apart.lot}


def _waiting(seen: WasteSeen) -> WaitingShown | None:
    first = seen.waiting
    if first is None:
        return None
    return WaitingShown(
        became=taken_back.OUTSIDE[_what(first.held_in, first.way)],
        syringe=first.syringe,
        lot=first.lot,
        by=seen.by,
        until=first.at + WITHIN,
        again=first.reading > 1,
        is_rest=first.held_in == (IN_SYRINGE,),
    )


def _what(held_in: tuple[str, ...], way: str) -> str:
    return next(what for what, told in OUTSIDE.items() if told == (*held_in, way))
