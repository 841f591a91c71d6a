"""Export what has ended: asked for in the log, and made at the host or, for the web, in a process apart."""

from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

from app.base import Act, Actor, Method
from app.keys import new_id
from app.people import Permission, Role, may
from app.records.export_events import Exported, export_look
from app.records.kept import Access
from app.site.installation import Site
from app.site.loading import rules_in_force
from app.storage import Reader
from app.workflow import export_apart
from app.workflow.credentials import AT_THE_HOST, Known, Signatory, verify_credential
from app.workflow.export_jobs import (
    READINGS,
    Asked,
    Job,
    add_job,
    find_job,
    find_turn,
    folders,
    jobs,
    remove_old,
)
from app.workflow.loading import beds_read_blind, viewer_of
from app.workflow.refusals import NotAllowed, NotFound, TooManyTries, WrongCredential, WrongSpan

FEWEST_DAYS = 31
"""Of a de-identified export: of one day it would tell by how many days each patient's were moved."""

# So short a moment that nothing is ended in it twice: what ended in the moment of asking is in the export.
_MOMENT = timedelta(microseconds=1)


@dataclass(frozen=True, kw_only=True)
class Span:
    """From the beginning of the first day to the end of the last, in the site's zone."""

    first: date
    last: date


@dataclass(frozen=True, kw_only=True)
class Wanted:
    """What somebody wants exported."""

    span: Span
    form: str
    deidentified: bool = False


@dataclass(frozen=True)
class NamesPeople:
    """What was read cannot be de-identified: it holds what two wrote in their own words."""


@dataclass(frozen=True)
class TooFewDays:
    """De-identified it would cover so few days, up to today, that they tell by how many they were moved."""


@dataclass(frozen=True, kw_only=True)
class ReadsBlind:
    """Whoever asked reads blind by now at a bed that may be in it; it can be collected afterwards."""

    job: Job


def export_at_host(
    site: Site, now: datetime, who: Signatory, wanted: Wanted
) -> Asked | NotAllowed | WrongSpan | NamesPeople | TooFewDays | WrongCredential | TooManyTries:
    """Ask for an export on the command line, for whoever gives id and secret there."""
    known = verify_credential(
        site, now, login=who.login, secret=who.secret, what="exporting", where=AT_THE_HOST
    )
    if not isinstance(known, Known):
        return known
    by = Actor(
        person=known.person.id,
        session="",
        device="",
        signed_in_at=now,
        unit=known.person.unit,
        method=Method.SECRET,
    )
    act = Act(now=now, by=by, new_id=new_id)
    asked = _ask(site, act, known.person.roles, wanted)
    if isinstance(asked, Asked):
        _note_look(site, act, asked)
    return asked


def ask_for_export(
    site: Site, act: Act, roles: frozenset[Role], wanted: Wanted
) -> Job | NotAllowed | WrongSpan | NamesPeople | TooFewDays:
    """Ask for an export on the web; it is begun as soon as its turn has come."""
    asked = _ask(site, act, roles, wanted)
    if not isinstance(asked, Asked):
        return asked
    job = add_job(site.exports, asked)
    begin_exports(site)
    return job


def _ask(
    site: Site, act: Act, roles: frozenset[Role], wanted: Wanted
) -> Asked | NotAllowed | WrongSpan | NamesPeople | TooFewDays:
    if not may(roles, Permission.EXPORT):
        return NotAllowed()
    span = wanted.span
    if span.last < span.first:
        return WrongSpan()
    if wanted.deidentified and wanted.form == READINGS:
        return NamesPeople()
    with site.store.write() as tx:
        blind_at = beds_read_blind(tx, viewer_of(tx, act.by, roles, act.now))
        name = rules_in_force(tx, act.now).policy.zone
        zone = ZoneInfo(name)
        last = min(span.last, act.now.astimezone(zone).date())
        if wanted.deidentified and (last - span.first).days + 1 < FEWEST_DAYS:
            return tx.refuse(TooFewDays())
        end = datetime.combine(span.last + timedelta(days=1), time.min, zone).astimezone(UTC)
        begin = datetime.combine(span.first, time.min, zone).astimezone(UTC)
        event = Exported(
            export=act.new_id(),
            form=wanted.form,
            from_date=span.first.isoformat(),
            to_date=span.last.isoformat(),
            deidentified=wanted.deidentified,
        )
        tx.append(event, act=act)
    return Asked(
        export=event.export,
        form=wanted.form,
        first=span.first,
        last=span.last,
        zone=name,
        ended_from=begin,
        ended_before=min(end, act.now + _MOMENT),
        deidentified=wanted.deidentified,
        left_out=blind_at,
        by=act.by.person,
        at=act.now,
    )


def exports_of(site: Site, person: str) -> list[Job]:
    """What a person asked for and can still collect, the newest first."""
    return [each for each in reversed(jobs(site.exports)) if each.asked.by == person]


def find_export(site: Site, person: str, export: str) -> Job | None:
    """An export for whoever asked for it, and nobody else."""
    job = find_job(site.exports, export)
    return job if job is not None and job.asked.by == person else None


def collect_export(
    site: Site, act: Act, roles: frozenset[Role], export: str, *, is_manifest: bool = False
) -> Job | NotFound | NotAllowed | ReadsBlind:
    """An export that is made, or its manifest, which holds no value, for whoever asked for it."""
    if not may(roles, Permission.EXPORT):
        return NotAllowed()
    job = find_export(site, act.by.person, export)
    if job is None or job.find_file() is None:
        return NotFound()
    with site.store.read() as reader:
        blind_at = beds_read_blind(reader, viewer_of(reader, act.by, roles, act.now))
    if not blind_at <= job.asked.left_out:
        return ReadsBlind(job=job)
    if not is_manifest:
        _note_look(site, act, job.asked)
    return job


def _note_look(site: Site, act: Act, asked: Asked) -> None:
    """Whoever takes an export that names people has seen what is in it: the next record states it."""
    if asked.deidentified:
        return
    what = export_look(asked.export)
    with site.store.write() as tx:
        tx.add_access(Access(at=act.now, person=act.by.person, session=act.by.session, check="", what=what))


def begin_exports(site: Site) -> None:
    """Begin what waits and has its turn; whoever makes it sees to it that no two do the same."""
    for each in find_turn(site.exports):
        export_apart.start(site, each)


def tend_exports(site: Site, now: datetime) -> None:
    """Remove what nobody collected in the site's time, and begin what waits, or was killed."""
    if not folders(site.exports):
        return
    with site.store.read() as reader:
        kept = kept_for(reader, now)
    remove_old(site.exports, now, kept)
    begin_exports(site)


def kept_for(reader: Reader, now: datetime) -> timedelta:
    """For how long an export can be collected."""
    return rules_in_force(reader, now).policy.exports_kept
