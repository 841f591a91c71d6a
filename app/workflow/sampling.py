"""Random samples of ended checks for an audit: drawn by a stated seed, so that anyone can draw them again."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

from app.base import Act
from app.people import Permission, Role, may
from app.records.kept_rows import EndedRow
from app.records.sample_events import SampleDrawn
from app.review.sampling import digest_of, draw
from app.site.installation import Site
from app.site.loading import rules_in_force
from app.storage import Reader
from app.workflow.queueing import one_at_a_time
from app.workflow.refusals import NotAllowed

LONGEST_SEED = 60
MOST_EACH = 50
"""What somebody looks through by hand, and one page and one worksheet hold."""


@dataclass(frozen=True, kw_only=True)
class Plan:
    """What is drawn: by which seed, of what ended on which days, and how many of each unit."""

    seed: str
    first: date
    last: date
    each: int


@dataclass(frozen=True, kw_only=True)
class Drawn:
    """A sample: of each unit the checks in the order of drawing, and of how many they were drawn."""

    plan: Plan
    units: Mapping[str, tuple[EndedRow, ...]]
    sizes: Mapping[str, int]
    digest: str


@dataclass(frozen=True)
class WrongSpan:
    """The last day lies before the first."""


@dataclass(frozen=True)
class NotOver:
    """The last day is not over: checks may still end on it."""


@dataclass(frozen=True)
class NothingEnded:
    """No check ended on those days."""


@dataclass(frozen=True, kw_only=True)
class Kept:
    """It stands in the log under this id."""

    sample: str


def _find(reader: Reader, plan: Plan) -> SampleDrawn | None:
    drawn = (each.event for each in reader.entries_of_kind(SampleDrawn.kind))
    return next((each for each in drawn if isinstance(each, SampleDrawn) and plan_of(each) == plan), None)


def plan_of(event: SampleDrawn) -> Plan:
    """What the log says was drawn."""
    return Plan(
        seed=event.seed,
        first=date.fromisoformat(event.from_date),
        last=date.fromisoformat(event.to_date),
        each=event.each,
    )


def drawn_again(reader: Reader, now: datetime, plan: Plan) -> Drawn | WrongSpan | NotOver | NothingEnded:
    """What the plan draws, whoever draws it and whenever: only days that are over are drawn from."""
    if plan.last < plan.first:
        return WrongSpan()
    zone = ZoneInfo(rules_in_force(reader, now).policy.zone)
    begin, end = _midnight(plan.first, zone), _midnight(plan.last + timedelta(days=1), zone)
    if end > now:
        return NotOver()
    strata: dict[str, list[str]] = {}
    for unit, check in reader.ended_ids(begin, end):
        strata.setdefault(unit, []).append(check)
    if not strata:
        return NothingEnded()
    ids = draw(plan.seed, strata, plan.each)
    of_drawn = reader.ended_rows_of([check for checks in ids.values() for check in checks])
    rows = {each.check: each for each in of_drawn}
    return Drawn(
        plan=plan,
        units={unit: tuple(rows[check] for check in checks) for unit, checks in ids.items()},
        sizes={unit: len(strata[unit]) for unit in ids},
        digest=digest_of(ids),
    )


def _midnight(day: date, zone: ZoneInfo) -> datetime:
    return datetime.combine(day, time.min, zone).astimezone(UTC)


def draw_sample(
    site: Site, act: Act, roles: frozenset[Role], plan: Plan
) -> Kept | NotAllowed | WrongSpan | NotOver | NothingEnded:
    """Draw a sample, which the log tells of: by what, of how many, and a digest of what was drawn.

    Drawn by the same plan again it is the one that stands there, with whatever was answered of it.
    """
    if not may(roles, Permission.SAMPLE):
        return NotAllowed()
    with site.store.read() as reader:
        # What is over stays as it is: nobody waits while it is read.
        drawn = drawn_again(reader, act.now, plan)
    if not isinstance(drawn, Drawn):
        return drawn
    with site.store.write() as tx:
        one_at_a_time(tx, "drawing samples", act.now)
        before = _find(tx, plan)
        if before is not None:
            return tx.refuse(Kept(sample=before.sample))
        event = SampleDrawn(
            sample=act.new_id(),
            seed=plan.seed,
            from_date=plan.first.isoformat(),
            to_date=plan.last.isoformat(),
            each=plan.each,
            strata=tuple(f"{unit} {len(rows)}/{drawn.sizes[unit]}" for unit, rows in drawn.units.items()),
            digest=drawn.digest,
        )
        tx.append(event, act=act)
    return Kept(sample=event.sample)
