"""What a person answers for, as the page shows it: where and how far, and never a value."""

from dataclasses import dataclass
from datetime import datetime

from app.records.kinds import HANDOFF, HANDOFF_STANDING
from app.web.models.lists import place
from app.words.screens import kind_words
from app.workflow.answering import Covering, MyInfusions


@dataclass(frozen=True, kw_only=True)
class MineShown:
    """One infusion; `kind` is the check in which it is handed over, `open_kind` what is open at its bed."""

    infusion: str
    place: str
    progress: str
    kind: str
    may_hand_over: bool
    open_check: str
    open_kind: str


@dataclass(frozen=True, kw_only=True)
class CoveringShown:
    """One break that is covered."""

    infusion: str
    place: str
    whose: str
    by: str
    until: datetime
    overdue: bool


@dataclass(frozen=True, kw_only=True)
class MinePage:
    """What is mine here."""

    here: str
    mine: tuple[MineShown, ...]
    covered: tuple[CoveringShown, ...]
    covering: tuple[CoveringShown, ...]
    colleagues: dict[str, str]
    until: datetime

    @property
    def may_go(self) -> bool:
        """Whether there is something to cover that is not covered, and nobody else's break is covered."""
        return len(self.mine) > len(self.covered) and not self.covering


def mine_page(seen: MyInfusions) -> MinePage:
    """The page for one person at one unit."""
    return MinePage(
        here=seen.unit,
        mine=tuple(
            MineShown(
                infusion=each.infusion,
                place=place(seen.unit, each.bed),
                progress=each.standing.value,
                kind=(HANDOFF if each.runs else HANDOFF_STANDING).name,
                may_hand_over=not each.open_check,
                open_check=each.open_check,
                open_kind=kind_words(each.open_kind) if each.open_kind else "",
            )
            for each in seen.mine
        ),
        covered=tuple(_covering(each, seen.unit) for each in seen.covered),
        covering=tuple(_covering(each, seen.unit) for each in seen.covering),
        colleagues=seen.colleagues,
        until=seen.until,
    )


def _covering(each: Covering, unit: str) -> CoveringShown:
    return CoveringShown(
        infusion=each.infusion,
        place=place(unit, each.bed),
        whose=each.whose,
        by=each.by,
        until=each.until,
        overdue=each.overdue,
    )
