"""The list of findings: every finding of every cleared or abandoned check, and what came of it."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime

from app.base import Act
from app.people import Permission, Role, may
from app.records.followup import Found, sources_of
from app.records.settled import Settled, later_round, settle
from app.records.state import CheckState, Phase, Round
from app.records.visibility import Sight, Viewer, sight
from app.site.installation import Site
from app.site.loading import load_check
from app.storage import EndedCheck, Reader
from app.workflow.loading import viewer_of
from app.workflow.refusals import NotAllowed

PAGE = 25
# A page of a rare finding ends here, and says where the next begins.
AT_MOST = 500


@dataclass(frozen=True, kw_only=True)
class Wanted:
    """What the log is filtered by; blank means all."""

    unit: str = ""
    code: str = ""
    severity: str = ""
    from_: datetime | None = None
    to: datetime | None = None
    after: tuple[datetime, str] | None = None


@dataclass(frozen=True, kw_only=True)
class PastFinding:
    """One finding of one round, and how it was settled."""

    check: str
    unit: str
    bed: str
    kind: str
    ended_at: datetime
    outcome: str
    round: int
    severity: str
    about: str
    code: str
    field: str
    sources: tuple[str, ...]
    slip: str
    factor: str
    says: str
    settled: str
    seconds_to_settle: int | None


@dataclass(frozen=True, kw_only=True)
class PastFindings:
    """One page of the log, and where the next begins."""

    rows: tuple[PastFinding, ...]
    next_after: tuple[datetime, str] | None


def past_findings(site: Site, act: Act, roles: frozenset[Role], wanted: Wanted) -> PastFindings | NotAllowed:
    """One page; a charge nurse sees the own unit, quality and pharmacist every unit."""
    if may(roles, Permission.ALL_FINDINGS):
        unit = wanted.unit
    elif may(roles, Permission.UNIT_FINDINGS):
        unit = act.by.unit
    else:
        return NotAllowed()
    rows: list[PastFinding] = []
    place, looked_at = wanted.after, 0
    with site.store.read_ahead() as reader:
        viewer = viewer_of(reader, act.by, roles, act.now)
        while True:
            ended = reader.ended_checks(
                unit or None, from_=wanted.from_, to=wanted.to, after=place, limit=PAGE
            )
            reader.take_states([each.check for each in ended])
            for each in ended:
                place = (each.ended_at, each.check.id)
                rows += [row for row in rows_of(reader, each, act.now, viewer) if _matches(row, wanted)]
                looked_at += 1
                if len(rows) >= PAGE or looked_at >= AT_MOST:
                    return PastFindings(rows=tuple(rows), next_after=place)
            if len(ended) < PAGE:
                return PastFindings(rows=tuple(rows), next_after=None)


def _matches(row: PastFinding, wanted: Wanted) -> bool:
    return wanted.code in ("", row.code) and wanted.severity in ("", row.severity)


# What is cleared may lapse, start or be read again, and was cleared all the same.
_OUTCOMES = {each: each.value for each in (Phase.DONE, Phase.LED, Phase.ABANDONED)}


def rows_of(reader: Reader, ended: EndedCheck, now: datetime, viewer: Viewer) -> Iterator[PastFinding]:
    """Every finding of every compared round of one ended check, for whoever may see it.

    A check that was cleared and is read again has ended for nobody.
    """
    state = load_check(reader, ended.check, now).state
    if sight(state, viewer) is not Sight.EVERYTHING:
        return
    for each in state.rounds:
        for found in each.findings:
            settled = _settled(state, each, found)
            yield PastFinding(
                check=ended.check.id,
                unit=ended.check.unit,
                bed=ended.check.bed,
                kind=ended.check.kind,
                ended_at=ended.ended_at,
                outcome=_OUTCOMES.get(state.phase, "cleared"),
                round=each.number,
                severity=found.severity,
                about=found.about,
                code=found.code,
                field=found.field,
                sources=sources_of(found),
                slip=found.slip,
                factor=found.factor,
                says=found.says,
                settled=settled.how.value,
                seconds_to_settle=_seconds(each, settled.at),
            )


def _settled(state: CheckState, each: Round, found: Found) -> Settled:
    exempt = (one.at for one in state.exemptions if one.finding == found.key)
    acknowledged = {one.slot: one.at for one in state.acknowledgements if one.finding == found.key}
    return settle(
        found,
        exempt=next(exempt, None),
        acknowledged=acknowledged.values(),
        later=[
            later_round(one.number, one.compared_at, touched=one.touched, findings=one.findings)
            for one in state.rounds
            if one.number > each.number and one.compared_at is not None
        ],
    )


def _seconds(each: Round, at: datetime | None) -> int | None:
    if at is None or each.compared_at is None:
        return None
    return int((at - each.compared_at).total_seconds())
