"""The boluses given by staff: when and by whom, and whether the patient was looked at; never how much."""

from dataclasses import dataclass, replace
from datetime import datetime, timedelta

from app.records.bolus_events import BolusLooked, StaffBolusGiven
from app.records.events import DeviceStopped, Started, StartedWithoutCheck
from app.records.kept import Entry
from app.records.stated import stated


@dataclass(frozen=True, kw_only=True)
class StaffBolus:
    """One bolus; `in_force` is the check whose order says how much, `seen_at` when its peak was observed."""

    position: int
    at: datetime
    by: str
    in_force: str
    seen_at: datetime | None = None


@dataclass(frozen=True, kw_only=True)
class BolusLook:
    """One nurse looked, and the protocol allows a bolus with it, until the device was stopped."""

    position: int
    at: datetime
    by: str
    stopped_at: datetime | None = None

    def is_fresh(self, by: str, now: datetime, valid: timedelta) -> bool:
        """Whether it still counts for whoever looked; by a clock that was put back nobody can tell."""
        return self.by == by and self.stopped_at is None and timedelta(0) <= now - self.at <= valid

    def given_at(self, text: str, now: datetime, valid: timedelta) -> datetime:
        """When the bolus was given that it allowed: as it is stated, else the latest that it can be."""
        latest = min(now, self.at + valid, self.stopped_at or now)
        return min(max(stated(text, latest), self.at), latest)


@dataclass(frozen=True, kw_only=True)
class Boluses:
    """Those that were given, and the last look before the next one."""

    given: tuple[StaffBolus, ...] = ()
    look: BolusLook | None = None

    def look_of(self, who: str) -> BolusLook | None:
        """Somebody's own look, after which no bolus is written down yet."""
        return self.look if self.look is not None and self.look.by == who else None

    @property
    def to_be_seen(self) -> StaffBolus | None:
        """The last one, while nobody has written down what its peak did."""
        return self.given[-1] if self.given and self.given[-1].seen_at is None else None

    def since(self, moment: datetime) -> int:
        """How many were given from a moment on."""
        return sum(1 for each in self.given if each.at >= moment)


NO_BOLUS = Boluses()


def after_bolus(before: Boluses, entry: Entry) -> Boluses:
    """What stands once an entry is told; after a stop a look counts only for what was given before it."""
    match entry.event:
        case BolusLooked(bolus="", within=within):
            look = BolusLook(position=entry.position, at=entry.at, by=entry.by)
            return replace(before, look=look if within else None)
        case BolusLooked(bolus=position):
            return replace(before, given=tuple(_seen(each, position, entry.at) for each in before.given))
        case StaffBolusGiven(in_force=check, stated_at=text):
            at = stated(text, entry.at)
            bolus = StaffBolus(position=entry.position, at=at, by=entry.by, in_force=check)
            return replace(before, given=(*before.given, bolus), look=None)
        case DeviceStopped() if before.look is not None and before.look.stopped_at is None:
            return replace(before, look=replace(before.look, stopped_at=entry.at))
        case Started() | StartedWithoutCheck():
            return replace(before, look=None)
        case _:
            return before


def _seen(bolus: StaffBolus, position: str, at: datetime) -> StaffBolus:
    return replace(bolus, seen_at=at) if str(bolus.position) == position and not bolus.seen_at else bolus


OF_BOLUSES = (BolusLooked.kind, StaffBolusGiven.kind)
