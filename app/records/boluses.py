"""The boluses given by staff: when and by whom, and whether the patient was looked at; never how much."""

from dataclasses import dataclass, replace
from datetime import datetime, timedelta

from app.records.bolus_events import BolusLooked, StaffBolusGiven
from app.records.events import DeviceStopped, Started, StartedWithoutCheck
from app.records.kept import Entry


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
    """One nurse looked, and the protocol allows a bolus with it."""

    position: int
    at: datetime
    by: str

    def is_fresh(self, by: str, now: datetime, valid: timedelta) -> bool:
        """Whether it still counts for whoever looked; by a clock that was put back nobody can tell."""
        return self.by == by and timedelta(0) <= now - self.at <= valid


@dataclass(frozen=True, kw_only=True)
class Boluses:
    """Those that were given, and the last look before the next one."""

    given: tuple[StaffBolus, ...] = ()
    look: BolusLook | None = None

    @property
    def to_be_seen(self) -> StaffBolus | None:
        """The last one, while nobody has written down what its peak did."""
        return self.given[-1] if self.given and self.given[-1].seen_at is None else None

    def since(self, moment: datetime) -> int:
        """How many were given from a moment on."""
        return sum(1 for each in self.given if each.at >= moment)


NO_BOLUS = Boluses()


def after_bolus(before: Boluses, entry: Entry) -> Boluses:
    """What stands once an entry is told; a stop or a start ends what was looked at before."""
    match entry.event:
        case BolusLooked(bolus="", within=within):
            look = BolusLook(position=entry.position, at=entry.at, by=entry.by)
            return replace(before, look=look if within else None)
        case BolusLooked(bolus=position):
            return replace(before, given=tuple(_seen(each, position, entry.at) for each in before.given))
        case StaffBolusGiven(in_force=check):
            bolus = StaffBolus(position=entry.position, at=entry.at, by=entry.by, in_force=check)
            return replace(before, given=(*before.given, bolus), look=None)
        case DeviceStopped() | Started() | StartedWithoutCheck():
            return replace(before, look=None)
        case _:
            return before


def _seen(bolus: StaffBolus, position: str, at: datetime) -> StaffBolus:
    return replace(bolus, seen_at=at) if str(bolus.position) == position and not bolus.seen_at else bolus


OF_BOLUSES = (BolusLooked.kind, StaffBolusGiven.kind)
