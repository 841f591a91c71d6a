"""Export cleared records and their findings, as they stream."""

from collections.abc import Iterator

from flask import Blueprint, Response, abort, render_template, request
from flask.typing import ResponseReturnValue

from app.people import Permission
from app.web import asking
from app.web.access import allowed
from app.web.asking import site
from app.web.forms.exporting import ExportForm
from app.web.forms.findings import read_day
from app.workflow.exporting import Exporting, Span, WrongSpan, export_records
from app.workflow.refusals import NotAllowed

views = Blueprint("exporting", __name__)

_TYPES = {"csv": "text/csv; charset=utf-8", "jsonl": "application/jsonl; charset=utf-8"}
_DATE = "Write a date as year-month-day: four digits, two, two, with hyphens."


@views.get("/export")
@allowed(Permission.EXPORT)
def page() -> ResponseReturnValue:
    """Which days, and as what."""
    return render_template("exporting/export.html", form=ExportForm())


@views.post("/export")
@allowed(Permission.EXPORT)
def export() -> ResponseReturnValue:
    """The export as a download; that it was asked for is in the log before its first byte."""
    form = ExportForm(request.form)
    valid = form.validate()
    span = _span(form)
    if not valid or span is None:
        return render_template("exporting/export.html", form=form), 422
    match export_records(
        site(),
        asking.act(),
        asking.person().roles,
        span=span,
        form=form.text("form"),
    ):
        case Exporting(chunks=chunks):
            return _download(chunks, span, form.text("form"))
        case WrongSpan():
            form.refuse("last", "The last day lies before the first.")
            return render_template("exporting/export.html", form=form), 422
        case NotAllowed():
            return abort(403)


def _span(form: ExportForm) -> Span | None:
    first, last = read_day(form.text("first")), read_day(form.text("last"))
    for name, day in (("first", first), ("last", last)):
        if day is None and form.text(name):
            form.refuse(name, _DATE)
    return None if first is None or last is None else Span(first=first, last=last)


def _download(chunks: Iterator[bytes], span: Span, form: str) -> Response:
    name = f"countersign-{span.first.isoformat()}-to-{span.last.isoformat()}.{form}"
    return Response(
        chunks,
        content_type=_TYPES[form],
        headers={"Content-Disposition": f'attachment; filename="{name}"'},
    )
