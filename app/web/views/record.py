"""The record of a check: as a page, and as the PDF that is made from what both signed."""

from flask import Blueprint, Response, abort, render_template
from flask.typing import ResponseReturnValue

from app.people import Permission
from app.records.canonical import digest
from app.web import asking
from app.web.access import allowed
from app.web.asking import site
from app.web.models.record import record_page
from app.workflow.looking import RecordSeen, see_record
from app.workflow.refusals import NotAllowed, NotFound

views = Blueprint("record", __name__)

NOT_AS_ISSUED = (
    "The stored PDF is not the one that was issued: somebody changed it. "
    "Use a copy that was kept elsewhere, and tell whoever runs this site."
)


@views.get("/check/<check>/record")
@allowed(Permission.CHECK, Permission.UNIT_STATE, Permission.READ_RECORDS)
def page(check: str) -> ResponseReturnValue:
    """The newest edition, and its signatures."""
    return render_template("record/record.html", page=record_page(_record(check)))


@views.get("/check/<check>/record.pdf")
@allowed(Permission.CHECK, Permission.UNIT_STATE, Permission.READ_RECORDS)
def pdf(check: str) -> ResponseReturnValue:
    """The stored bytes, if they are those that were issued; until they are made there is nothing here."""
    record = _record(check)
    if record.pdf is None:
        abort(404)
    if digest(record.pdf.content) != record.issued_as:
        return render_template("parts/refused.html", says=NOT_AS_ISSUED), 500
    name = f"countersign-record-{check[:8]}-{record.pdf.edition}.pdf"
    return Response(
        record.pdf.content,
        mimetype="application/pdf",
        headers={"Content-Disposition": f'attachment; filename="{name}"'},
    )


def _record(check: str) -> RecordSeen:
    match see_record(site(), asking.act(), check):
        case RecordSeen() as record:
            return record
        case NotFound() | NotAllowed():
            return abort(404)
