"""The boluses given by staff: when and by whom, and whether the patient was looked at; never how much."""

from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from typing import Self

from app.records.bolus_events import BolusLooked, StaffBolusGiven
from app.records.ending_events import InfusionEnded
from app.records.events import CheckDone, DeviceStopped, Started, StartedWithoutCheck
from app.records.kept import Entry
from app.records.stated import stated

TOLD_FOR = timedelta(hours=24)
"""So long after a look it is asked, once it was started anew, what was given as that allowed.

No source; common practice: a time of day names one moment in it, and whoever gave it has had a handoff since.
"""


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
    """One nurse looked, and the protocol allows a bolus with it, until `ended_at`.

    Then the device was stopped or, at `started_at`, started anew, another gave one, or, at `outside_at`, a
    later look was outside the protocol. `checks` put settings in force since then, each from a moment on, and
    the first of them before the look.
    """

    position: int
    at: datetime
    by: str
    checks: tuple[tuple[datetime, str], ...]
    ended_at: datetime | None = None
    outside_at: datetime | None = None
    started_at: datetime | None = None

    def is_fresh(self, by: str, now: datetime, valid: timedelta) -> bool:
        """Whether it still counts for whoever looked; by a clock that was put back nobody can tell."""
        return self.by == by and self.ended_at is None and timedelta(0) <= now - self.at <= valid

    def given_at(self, text: str, now: datetime, valid: timedelta) -> datetime:
        """When the bolus was given that it allowed: as it is stated, else the latest that it can be."""
        latest = min(now, self.at + valid, self.ended_at or now)
        return min(max(stated(text, latest), self.at), latest)

    def allows(self, text: str, now: datetime) -> bool:
        """Whether the look allows one that is stated so: blank is the latest that it can have been."""
        return self.outside_at is None or not text or stated(text, now) <= self.outside_at

    def is_before_start(self, text: str, now: datetime) -> bool:
        """Whether one that is stated so was given before it was started anew.

        That has to be said: the time tells of which syringe it was, and by which order.
        """
        return self.started_at is None or stated(text, now) < self.started_at

    def in_force_at(self, at: datetime) -> str:
        """The check that was in force at a moment after the look."""
        return next((check for since, check in reversed(self.checks) if since <= at), self.checks[0][1])

    def under(self, check: str, since: datetime) -> Self:
        """The same, where a check is in force from a moment on."""
        return replace(self, checks=(*self.checks, (since, check)))


@dataclass(frozen=True, kw_only=True)
class Boluses:
    """Those that were given, and of each nurse the last look before the next one."""

    given: tuple[StaffBolus, ...] = ()
    looks: tuple[BolusLook, ...] = ()

    def look_of(self, who: str) -> BolusLook | None:
        """Somebody's own look, after which no bolus of hers is written down yet."""
        return next((each for each in self.looks if each.by == who), None)

    def look_to_tell(self, who: str, now: datetime) -> BolusLook | None:
        """The same, while it is asked what was given after it."""
        look = self.look_of(who)
        over = look is not None and look.started_at is not None and now - look.at > TOLD_FOR
        return None if over else look

    @property
    def to_be_seen(self) -> StaffBolus | None:
        """The last one, while nobody has written down what its peak did."""
        return self.given[-1] if self.given and self.given[-1].seen_at is None else None

    def since(self, moment: datetime) -> int:
        """How many were given from a moment on."""
        return sum(1 for each in self.given if each.at >= moment)


NO_BOLUS = Boluses()


def after_bolus(before: Boluses, entry: Entry, *, in_force: str) -> Boluses:
    """What stands once an entry is told; a look that has ended counts only for what was given before that.

    `in_force` is the check that is in force with it.
    """
    match entry.event:
        case BolusLooked(bolus="", within=True):
            checks = ((entry.at, in_force),)
            look = BolusLook(position=entry.position, at=entry.at, by=entry.by, checks=checks)
            return replace(before, looks=(*_without(before, entry.by), look))
        case BolusLooked(bolus="", within=False):
            return replace(before, looks=_ended(before.looks, entry.at, outside_at=entry.at))
        case BolusLooked(bolus=position):
            return replace(before, given=tuple(_seen(each, position, entry.at) for each in before.given))
        case StaffBolusGiven(in_force=check, stated_at=text):
            at = stated(text, entry.at)
            bolus = StaffBolus(position=entry.position, at=at, by=entry.by, in_force=check)
            others = _ended(_without(before, entry.by), entry.at)
            return replace(before, given=(*before.given, bolus), looks=others)
        case _ if before.looks:
            return replace(before, looks=tuple(_looks_after(before.looks, entry, in_force)))
        case _:
            return before


def _looks_after(looks: tuple[BolusLook, ...], entry: Entry, in_force: str) -> Iterable[BolusLook]:
    """What is left of the looks once an entry is told that is of no bolus."""
    match entry.event:
        case DeviceStopped():
            return _ended(looks, entry.at)
        case Started() | StartedWithoutCheck():
            return _started(looks, entry.at)
        case InfusionEnded():
            return ()
        case CheckDone():
            return (each.under(in_force, entry.at) for each in looks)
        case _:
            return looks


def _without(before: Boluses, who: str) -> tuple[BolusLook, ...]:
    return tuple(each for each in before.looks if each.by != who)


def _ended(
    looks: Iterable[BolusLook], at: datetime, *, outside_at: datetime | None = None
) -> tuple[BolusLook, ...]:
    """These, of which those that still stood end now."""
    return tuple(
        each if each.ended_at is not None else replace(each, ended_at=at, outside_at=outside_at)
        for each in looks
    )


def _started(looks: Iterable[BolusLook], at: datetime) -> tuple[BolusLook, ...]:
    """These, which count only for what was given before the first start since."""
    return tuple(replace(each, started_at=each.started_at or at) for each in _ended(looks, at))


def _seen(bolus: StaffBolus, position: str, at: datetime) -> StaffBolus:
    return replace(bolus, seen_at=at) if str(bolus.position) == position and not bolus.seen_at else bolus


OF_BOLUSES = (BolusLooked.kind, StaffBolusGiven.kind)
