"""Export cleared records: streaming, in bounded memory, and each export in the log."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

from app.base import Act, Actor, Method
from app.keys import new_id
from app.people import Permission, Role, may
from app.records import events
from app.records.visibility import bed_of
from app.reports.export import Exported, csv_lines, json_lines
from app.site.installation import Site
from app.site.loading import rules_in_force
from app.workflow.credentials import AT_THE_HOST, Known, Signatory, verify_credential
from app.workflow.loading import viewer_of
from app.workflow.refusals import NotAllowed, TooManyTries, WrongCredential

FORMATS = ("csv", "jsonl")


@dataclass(frozen=True, kw_only=True)
class Span:
    """From the beginning of the first day to the end of the last, in the site's zone."""

    first: date
    last: date


@dataclass(frozen=True)
class WrongSpan:
    """The last day lies before the first."""


@dataclass(frozen=True, kw_only=True)
class Exporting:
    """The export as it streams."""

    chunks: Iterator[bytes]


def export_at_host(
    site: Site, now: datetime, who: Signatory, *, span: Span, form: str
) -> Exporting | NotAllowed | WrongSpan | WrongCredential | TooManyTries:
    """Begin an export on the command line, for whoever gives id and secret there."""
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
    return export_records(site, act, known.person.roles, span=span, form=form)


def export_records(
    site: Site, act: Act, roles: frozenset[Role], *, span: Span, form: str
) -> Exporting | NotAllowed | WrongSpan:
    """Begin an export; id and secret were given for it."""
    if not may(roles, Permission.EXPORT):
        return NotAllowed()
    if span.last < span.first:
        return WrongSpan()
    with site.store.write() as tx:
        blind_at = viewer_of(tx, act.by, roles, act.now).blind_at
        zone = ZoneInfo(rules_in_force(tx, act.now).policy.zone)
        event = events.Exported(form=form, from_date=span.first.isoformat(), to_date=span.last.isoformat())
        tx.append(event, act=act)
    from_ = datetime.combine(span.first, time.min, zone).astimezone(UTC)
    to = datetime.combine(span.last + timedelta(days=1), time.min, zone).astimezone(UTC)
    return Exporting(chunks=_chunks(site, (from_, to), form, blind_at))


def _chunks(
    site: Site, between: tuple[datetime, datetime], form: str, blind_at: frozenset[tuple[str, str]]
) -> Iterator[bytes]:
    with site.store.read() as reader:
        exported = (
            Exported(
                record=each.record.document, followed=each.followed, followed_digest=each.followed_digest
            )
            for each in reader.stream_cleared(*between)
            # Whoever reads blind at a bed sees no earlier record of it.
            if bed_of(each.check) not in blind_at
        )
        yield from json_lines(exported) if form == "jsonl" else csv_lines(exported)
