"""What stands after an emergency, and what happened, as pages show it."""

from dataclasses import dataclass
from datetime import datetime, timedelta

from app.records.custody import OF_CUSTODY
from app.records.emergencies import TOLD, WITHOUT_A_STOP
from app.records.emergency_events import EvidenceKept, EvidenceReceived
from app.web.models.lists import place
from app.web.models.stands import Stand, minutes, stands_shown
from app.words.emergencies import TOLD as TOLD_WORDS
from app.words.hurried import HURRIED, seal_read, sealed_words
from app.workflow.emergencies_seen import EmergenciesSeen, Happened
from app.workflow.holding_evidence import EvidenceSeen


@dataclass(frozen=True, kw_only=True)
class HappenedShown:
    """One thing that happened; `asks` are the answers that may still be given, `told` those that were.

    `may_be_moved`: whoever looks wrote it, no stop stands with it, and it may have been another bed.
    """

    position: int
    words: str
    by: str
    at: datetime
    kind: str
    asks: tuple[str, ...]
    told: tuple[tuple[str, str], ...]
    may_be_moved: bool


@dataclass(frozen=True, kw_only=True)
class EmergencyPage:
    """What stands and what happened at an infusion; `kept` is all that was written of what is kept.

    `holders` confirmed that they hold it, the first one first; `may_hold`: whoever looks may confirm it.
    `place` is blank to whoever wrote something down from another unit.
    """

    infusion: str
    place: str
    stands: tuple[Stand, ...]
    happened: tuple[HappenedShown, ...]
    kept: tuple[tuple[str, str], ...]
    holders: tuple[HappenedShown, ...]
    may_hold: bool
    away_hours: str
    watch: str
    every_minutes: int

    def find(self, position: int) -> HappenedShown | None:
        """What happened as this entry."""
        return next((each for each in self.happened if each.position == position), None)

    def stand(self, key: str) -> Stand | None:
        """What stands of a kind."""
        return next((each for each in self.stands if each.key == key), None)


def emergency_page(seen: EmergenciesSeen) -> EmergencyPage:
    """The page for whoever looks."""
    watch, evidence = seen.left.watch, seen.left.stands.evidence
    return EmergencyPage(
        infusion=seen.infusion,
        place="" if seen.is_elsewhere else place(seen.unit, seen.bed),
        stands=stands_shown(seen.left),
        happened=tuple(happened_shown(each) for each in seen.happened),
        kept=sealed_words(vars(seen.kept)) if seen.kept else (),
        holders=tuple(
            happened_shown(each)
            for each in seen.happened
            if evidence is not None
            and isinstance(each.entry.event, EvidenceReceived)
            and each.entry.event.harm == str(evidence.position)
        ),
        may_hold=seen.may_hold,
        away_hours=_long(seen.left.policy.away),
        watch=_long(watch.lasts),
        every_minutes=minutes(watch.every),
    )


@dataclass(frozen=True, kw_only=True)
class HoldPage:
    """What is kept, for whoever confirms to hold it: who is said to hold it, and where it is `locked`."""

    infusion: str
    place: str
    since: datetime
    holder: str
    locked: str


def hold_page(seen: EvidenceSeen) -> HoldPage:
    """The page for whoever confirms it."""
    return HoldPage(
        infusion=seen.infusion,
        place=place(seen.unit, seen.bed),
        since=seen.what.at,
        holder=seen.holder,
        locked=seen.place,
    )


def happened_shown(each: Happened) -> HappenedShown:
    """One line of what happened."""
    told = (*_sealed(each), *((TOLD_WORDS[name], text) for name, text in each.told))
    return HappenedShown(
        position=each.entry.position,
        words=_words(each),
        by=each.by,
        at=each.entry.at,
        kind=each.entry.event.kind,
        asks=TOLD.get(type(each.entry.event), ()),
        told=told,
        may_be_moved=each.mine and isinstance(each.entry.event, WITHOUT_A_STOP),
    )


def _sealed(each: Happened) -> tuple[tuple[str, str], ...]:
    event = each.entry.event
    if isinstance(event, EvidenceKept):
        return sealed_words(vars(event))
    return seal_read(vars(event)) if isinstance(event, OF_CUSTODY) else ()


def _words(each: Happened) -> str:
    """As the time line says it, without its end, and without what is told beside it."""
    event = each.entry.event
    if isinstance(event, OF_CUSTODY):
        event = type(event)(harm=event.harm, seal="")
    return HURRIED[event.kind](vars(event)).removesuffix(".")


def _long(span: timedelta) -> str:
    """A span of the policy in words: whole hours as such."""
    said = minutes(span)
    return f"{said}\N{NO-BREAK SPACE}min" if said % 60 else f"{said // 60}\N{NO-BREAK SPACE}h"
