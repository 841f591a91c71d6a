"""What a look before a bolus allows no more: it ended, or a check is open for which the device stands."""

from dataclasses import dataclass
from datetime import datetime

from app.records.kept import KeptInfusion
from app.records.kinds import End, kind_named
from app.storage import Reader


@dataclass(frozen=True, kw_only=True)
class CheckOpen:
    """A check that changes or ends what runs is open since `at`: the device stands."""

    at: datetime


@dataclass(frozen=True, kw_only=True)
class OpenedSince:
    """It is not said to have been given before such a check was opened, at `at`, which is open still."""

    at: datetime


@dataclass(frozen=True, kw_only=True)
class OutsideSince:
    """It is not said to have been given before a look that was outside the protocol, at `at`."""

    at: datetime


@dataclass(frozen=True, kw_only=True)
class StartedSince:
    """It is not said to have been given before it was started anew, at `at`."""

    at: datetime


@dataclass(frozen=True, kw_only=True)
class TakenOffBefore:
    """By the account the syringe that was on when somebody looked had been counted and taken off, at `at`."""

    at: datetime


LookSaysNo = OutsideSince | StartedSince | TakenOffBefore | OpenedSince


def stands_since(reader: Reader, infusion: KeptInfusion) -> datetime | None:
    """Since when a check is open for which the device stands; its opening says so, and nothing read there.

    Its two read what was given and what is left, and what is given after that is in no reading.
    """
    for each in reader.open_checks_at(infusion.unit, infusion.bed):
        kind = kind_named(each.kind)
        if each.infusion == infusion.id and (kind.ends or kind.end is End.CLEARED):
            return each.opened_at
    return None
