"""The time line of an infusion: its log's entries, each with what it put into the account.

Of a check that is open no more is on it than that it was opened, and that the device was stopped: what it
reads is nobody's yet.
"""

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime

from app.records.account_entries import AccountEntry
from app.records.events import CheckOpened, DeviceStopped, Event, Joined
from app.records.kept import Entry
from app.records.what_followed import who_did
from app.records.written import as_data

_OF_OPEN_CHECKS = (CheckOpened, DeviceStopped)
# Fields of events that name somebody, and those that hold a time as it was stated.
NAMING = ("covers", "witness")
STATED = ("started_at", "stated_at", "stopped_at", "until")


@dataclass(frozen=True, kw_only=True)
class Moment:
    """One thing that happened: when the log has it, to which check of which kind, and by whom.

    `people` is who did it; of what ended a check, its two. `entries` is what the account has from it.
    """

    at: datetime
    event: Event
    check: str
    check_kind: str
    people: tuple[str, ...]
    entries: tuple[AccountEntry, ...] = ()

    @property
    def named(self) -> frozenset[str]:
        """Everybody whose name belongs to it."""
        data = as_data(self.event)
        return frozenset({*self.people, *(data[each] for each in NAMING if each in data)} - {""})


def open_checks_in(log: Iterable[Entry]) -> frozenset[str]:
    """The checks of these entries that have not ended."""
    told = tuple(log)
    return frozenset({each.check for each in told if each.check} - _ended(told))


def _ended(told: tuple[Entry, ...]) -> set[str]:
    return {each.check for each in told if each.event.ends_a_check}


def moments(log: Iterable[Entry], account: Iterable[AccountEntry]) -> tuple[Moment, ...]:
    """All entries of an infusion that may be told, the newest first, with what each put into the account."""
    told = tuple(log)
    is_open = open_checks_in(told)
    kinds = {each.check: each.event.check_kind for each in told if isinstance(each.event, CheckOpened)}
    pairs: defaultdict[str, list[str]] = defaultdict(list)
    for each in told:
        if isinstance(each.event, Joined):
            pairs[each.check].append(each.by)
    put: defaultdict[int, list[AccountEntry]] = defaultdict(list)
    for entry in account:
        put[entry.position].append(entry)
    return tuple(
        Moment(
            at=each.at,
            event=each.event,
            check=each.check,
            check_kind=kinds.get(each.check, ""),
            people=tuple(pairs[each.check]) if each.event.ends_a_check else (who_did(each),),
            entries=tuple(put[each.position]),
        )
        for each in reversed(told)
        if each.check not in is_open or isinstance(each.event, _OF_OPEN_CHECKS)
    )
