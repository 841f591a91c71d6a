"""An export as its page and the list of one's own show it: what was asked for, and how far it is."""

from dataclasses import dataclass
from datetime import date, datetime, timedelta

from app.records.checkpoint import Unreadable
from app.reports.manifest import manifest_of, read_manifest
from app.web.forms.exporting import FORMATS
from app.workflow.export_jobs import Job, Standing

_WORDS = {
    Standing.WAITING: "It waits for its turn.",
    Standing.MAKING: "It is being made.",
    Standing.MADE: "It is ready.",
    Standing.FAILED: "It could not be made.",
}


@dataclass(frozen=True, kw_only=True)
class ExportRow:
    """One export in the list; `standing` says how far it is."""

    export: str
    what: str
    first: date
    last: date
    at: datetime
    standing: str


@dataclass(frozen=True, kw_only=True)
class ExportPage:
    """One export: `rows` are those written so far or, once it is made, all of them; `until` it is kept."""

    row: ExportRow
    moment: str
    is_waiting: bool
    is_making: bool
    is_made: bool
    rows: int
    size: str
    digest: str
    until: datetime


def export_page(job: Job, kept: timedelta) -> ExportPage:
    """The page of one."""
    standing, file = job.standing, job.find_file()
    rows, size, digest = job.progress, 0, ""
    if file is not None:
        read = read_manifest(manifest_of(file).read_bytes())
        if not isinstance(read, Unreadable):
            (part,) = read.manifest.parts
            rows, size, digest = read.manifest.rows, part.size, part.sha256
    return ExportPage(
        row=_row(job, standing),
        moment=moment_of(job),
        is_waiting=standing is Standing.WAITING,
        is_making=standing is Standing.MAKING,
        is_made=standing is Standing.MADE,
        rows=rows,
        size=_size(size),
        digest=digest,
        until=job.asked.at + kept,
    )


def export_rows(asked_for: list[Job]) -> list[ExportRow]:
    """The list."""
    return [_row(each, each.standing) for each in asked_for]


def moment_of(job: Job) -> str:
    """What a page that waits shows: another one, and it is loaded anew."""
    return f"{job.standing}-{job.progress}"


def _row(job: Job, standing: Standing) -> ExportRow:
    asked = job.asked
    return ExportRow(
        export=asked.export,
        what=FORMATS[asked.form],
        first=asked.first,
        last=asked.last,
        at=asked.at,
        standing=_WORDS[standing],
    )


def _size(size: int) -> str:
    """Large enough to be read: `4.2 MB`."""
    return f"{size:,} bytes" if size < 10**6 else f"{size / 10**6:,.1f} MB"
