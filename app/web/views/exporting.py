"""Ask for an export, see how far it is, and collect it; it is made in a process of its own."""

from collections.abc import Iterator
from pathlib import Path

from flask import Blueprint, Response, abort, redirect, render_template, request, url_for
from flask.typing import ResponseReturnValue

from app.people import Permission
from app.reports.manifest import manifest_of
from app.web import asking
from app.web.access import allowed, waiting
from app.web.asking import parts, site
from app.web.forms.exporting import ExportForm
from app.web.models.exporting import export_page, export_rows, moment_of
from app.workflow.export_jobs import Job
from app.workflow.exporting import (
    FEWEST_DAYS,
    NamesPeople,
    ReadsBlind,
    Span,
    TooFewDays,
    Wanted,
    ask_for_export,
    collect_export,
    exports_of,
    find_export,
    kept_for,
)
from app.workflow.refusals import NotAllowed, NotFound, WrongSpan
from app.workflow.signing_in import find_live_person

views = Blueprint("exporting", __name__)

_TOO_FEW = (
    f"De-identified it covers at least {FEWEST_DAYS} days up to today: fewer would tell by how many days "
    "each patient's were moved. Write an earlier first day."
)
_TYPES = {
    ".csv": "text/csv; charset=utf-8",
    ".json": "application/json; charset=utf-8",
    ".jsonl": "application/jsonl; charset=utf-8",
    ".zip": "application/zip",
}
_CHUNK = 256 * 1024
_PLAIN = {"Content-Type": "text/plain; charset=utf-8"}


@views.get("/export")
@allowed(Permission.EXPORT)
def page() -> ResponseReturnValue:
    """Which days, and as what; and what was asked for before."""
    return _form(ExportForm())


@views.post("/export")
@allowed(Permission.EXPORT)
def export() -> ResponseReturnValue:
    """Ask for one; that it was asked for is in the log before anything is read."""
    form = ExportForm(request.form)
    valid = form.validate()
    span = _span(form)
    if not valid or span is None:
        return _form(form), 422
    wanted = Wanted(span=span, form=form.text("form"), deidentified=bool(form.deidentified.data))
    match ask_for_export(site(), asking.act(), asking.person().roles, wanted):
        case Job() as job:
            return redirect(url_for("exporting.one", export=job.folder.name), 303)
        case WrongSpan():
            form.refuse("last", "The last day lies before the first.")
            return _form(form), 422
        case NamesPeople():
            form.refuse("deidentified", "What was read names people: take another form.")
            return _form(form), 422
        case TooFewDays():
            form.refuse("first", _TOO_FEW)
            return _form(form), 422
        case NotAllowed():
            return abort(403)


@views.get("/export/<export>")
@allowed(Permission.EXPORT)
def one(export: str) -> ResponseReturnValue:
    """How far it is, and once it is made where to collect it."""
    job = find_export(site(), asking.person().id, export)
    return abort(404) if job is None else _one(job)


@views.get("/export/<export>/since/<moment>")
@waiting
def since(export: str, moment: str) -> ResponseReturnValue:
    """For a page that waits: nothing while it shows what is, else one word, whatever the reason."""
    person = find_live_person(
        site(), asking.now(), token=asking.token(), device=asking.device(), idle=parts().settings.idle
    )
    job = find_export(site(), person, export) if person else None
    if job is not None and moment_of(job) == moment:
        return "", 204
    return "Reload.", _PLAIN


@views.get("/export/<export>/file")
@allowed(Permission.EXPORT)
def file(export: str) -> ResponseReturnValue:
    """The file."""
    return _collected(export, is_manifest=False)


@views.get("/export/<export>/manifest")
@allowed(Permission.EXPORT)
def manifest(export: str) -> ResponseReturnValue:
    """What tells whether it is whole."""
    return _collected(export, is_manifest=True)


def _collected(export: str, *, is_manifest: bool) -> ResponseReturnValue:
    match collect_export(site(), asking.act(), asking.person().roles, export, is_manifest=is_manifest):
        case Job() as job:
            made = job.find_file()
            assert made is not None  # noqa: S101  # it is made
            return _download(manifest_of(made) if is_manifest else made)
        case NotFound():
            return abort(404)
        case NotAllowed():
            return abort(403)
        case ReadsBlind(job=job):
            return _one(job, reads_blind=True), 409


def _one(job: Job, *, reads_blind: bool = False) -> str:
    with site().store.read() as reader:
        kept = kept_for(reader, asking.now())
    return render_template("exporting/one.html", page=export_page(job, kept), reads_blind=reads_blind)


def _form(form: ExportForm) -> str:
    asked_for = exports_of(site(), asking.person().id)
    return render_template(
        "exporting/export.html", form=form, asked_for=export_rows(asked_for), fewest=FEWEST_DAYS
    )


def _span(form: ExportForm) -> Span | None:
    first, last = form.day("first"), form.day("last")
    return None if first is None or last is None else Span(first=first, last=last)


def _download(path: Path) -> Response:
    return Response(
        _chunks(path),
        content_type=_TYPES.get(path.suffix, "application/octet-stream"),
        headers={
            "Content-Disposition": f'attachment; filename="{path.name}"',
            "Content-Length": str(path.stat().st_size),
        },
    )


def _chunks(path: Path) -> Iterator[bytes]:
    """However large it is, little of it is held."""
    with path.open("rb") as file:
        while chunk := file.read(_CHUNK):
            yield chunk
