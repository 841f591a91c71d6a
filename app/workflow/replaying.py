"""What proposed rules would have found of the checks of the last months, beside those in force."""

from collections import Counter
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from app.judging.again import found_again
from app.records.canonical import canonical, digest
from app.records.followup import Severity
from app.records.kept import SOURCES, KeptComparison, SiteData
from app.records.kinds import kind_named
from app.records.rules import Rules
from app.records.visibility import Sight, Viewer, sight
from app.site.loading import Loaded, load, rules_in_force, unit_name
from app.storage import Reader

# The most recent so many that have ended; older ones tell little of today's orders.
MOST_CHECKS = 300
_PAGE = 50

_Rule = tuple[Severity, str]


@dataclass(frozen=True, kw_only=True)
class Replay:
    """What is asked: a document that might come into force, when it would, and who looks."""

    what: str
    content: Mapping[str, Any]
    since: datetime
    viewer: Viewer


@dataclass(frozen=True, kw_only=True)
class RuleCount:
    """How many checks have a finding only as it is (`gone`), only as proposed (`new`), in all and by unit."""

    severity: str
    code: str
    gone: int
    new: int
    units: tuple[tuple[str, int, int], ...]


@dataclass(frozen=True, kw_only=True)
class Replayed:
    """What came of it, in counts of checks alone: nothing of a single one is said.

    `stopped_too` would have been stopped and are not by the rules in force; `not_stopped` the reverse.
    `asked` is how many ended checks there were to try; fewer than these were tried where time ran out.
    """

    checks: int
    asked: int
    first_at: datetime | None
    stopped_too: int
    not_stopped: int
    rules: tuple[RuleCount, ...]

    @property
    def ran_out(self) -> bool:
        """Whether the time ran out before all were tried."""
        return self.checks < self.asked


def replay(
    reader: Reader, now: datetime, asked: Replay, *, enough: Callable[[], bool] = lambda: False
) -> Replayed:
    """Judge the stored rounds of ended checks again, by the rules in force and with the document changed."""
    ended = list(_ended(reader, now, asked.viewer))
    gone, new, too, less = Counter[tuple[_Rule, str]](), Counter[tuple[_Rule, str]](), 0, 0
    tried = 0
    first_at = None
    for loaded, at in ended:
        if enough():
            break
        check = loaded.state.check
        rounds = [each for each in loaded.comparisons if each.subject == SOURCES]
        as_it_is, proposed = (
            _found(rounds, loaded, rules) for rules in _both(reader, asked, unit=check.unit)
        )
        gone.update((rule, check.unit) for rule in as_it_is - proposed)
        new.update((rule, check.unit) for rule in proposed - as_it_is)
        too += _stops(proposed) > _stops(as_it_is)
        less += _stops(as_it_is) > _stops(proposed)
        tried, first_at = tried + 1, at
    return Replayed(
        checks=tried,
        asked=len(ended),
        first_at=first_at,
        stopped_too=too,
        not_stopped=less,
        rules=tuple(_counts(reader, gone, new)),
    )


def _ended(reader: Reader, now: datetime, viewer: Viewer) -> Iterator[tuple[Loaded, datetime]]:
    """The most recent that have ended and were compared, as far as this person may count them."""
    place, found = None, 0
    while found < MOST_CHECKS:
        page = reader.newest_ended(after=place, limit=_PAGE)
        for each in page:
            place = (each.ended_at, each.check)
            loaded = load(reader, each.check, now)
            assert loaded is not None  # noqa: S101  # the row is of a check that is there
            seen = sight(loaded.state, viewer) is Sight.EVERYTHING
            if seen and loaded.comparisons and found < MOST_CHECKS:
                found += 1
                yield loaded, each.ended_at
        if len(page) < _PAGE:
            return


def _both(reader: Reader, asked: Replay, *, unit: str) -> tuple[Rules, Rules]:
    """The rules that would be in force then, and the same with the document that is proposed."""
    standing = rules_in_force(reader, asked.since, unit=unit)
    written = canonical(asked.content)
    instead = SiteData(
        what=asked.what,
        version=asked.content["version"],
        content=written,
        digest=digest(written),
        in_force_from=asked.since,
    )
    return standing, Rules(published={**standing.published, asked.what: instead}, unit=unit)


def _found(rounds: list[KeptComparison], loaded: Loaded, rules: Rules) -> frozenset[_Rule]:
    kind = kind_named(loaded.state.check.kind)
    found = (each for kept in rounds for each in found_again(kept, kind, rules))
    return frozenset((Severity(each.severity), each.code) for each in found)


def _stops(found: frozenset[_Rule]) -> bool:
    return any(severity is Severity.STOP for severity, _ in found)


def _counts(
    reader: Reader, gone: Counter[tuple[_Rule, str]], new: Counter[tuple[_Rule, str]]
) -> Iterator[RuleCount]:
    of_rule: dict[_Rule, dict[str, tuple[int, int]]] = {}
    for rule, unit in {**gone, **new}:
        of_rule.setdefault(rule, {})[unit] = (gone[rule, unit], new[rule, unit])
    worst_first = list(Severity)
    for (severity, code), units in sorted(
        of_rule.items(), key=lambda each: (worst_first.index(each[0][0]), each[0][1])
    ):
        yield RuleCount(
            severity=severity.value,
            code=code,
            gone=sum(less for less, _ in units.values()),
            new=sum(more for _, more in units.values()),
            units=tuple(sorted((unit_name(reader, unit), *both) for unit, both in units.items())),
        )
