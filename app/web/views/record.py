"""The record of a check: as a page, and as the PDF that is made from what both signed."""

from flask import Blueprint, Response, abort, render_template
from flask.typing import ResponseReturnValue

from app.people import Permission
from app.records.canonical import digest
from app.web import asking
from app.web.access import allowed
from app.web.asking import site
from app.web.models.record import record_page
from app.workflow.looking import (
    FollowedSeen,
    PdfSeen,
    RecordSeen,
    see_pdf,
    see_record,
    see_what_followed,
)
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
    match see_record(site(), asking.act(), check):
        case RecordSeen() as record:
            return render_template("record/record.html", page=record_page(record))
        case NotFound() | NotAllowed():
            return abort(404)


@views.get("/check/<check>/what-followed-<int:edition>.pdf")
@allowed(Permission.CHECK, Permission.UNIT_STATE, Permission.READ_RECORDS)
def what_followed(check: str, edition: int) -> ResponseReturnValue:
    """What followed an edition of the record, likewise; until its story has ended there is nothing here."""
    match see_what_followed(site(), asking.act(), check, edition):
        case FollowedSeen(followed=followed, issued_as=issued_as) if digest(followed.content) == issued_as:
            return _file(followed.content, f"countersign-what-followed-{check[:8]}-{edition}.pdf")
        case FollowedSeen():
            return render_template("parts/refused.html", says=NOT_AS_ISSUED), 500
        case NotFound() | NotAllowed():
            return abort(404)


def _file(content: bytes, name: str) -> Response:
    headers = {"Content-Disposition": f'attachment; filename="{name}"'}
    return Response(content, mimetype="application/pdf", headers=headers)


@views.get("/check/<check>/record.pdf")
@allowed(Permission.CHECK, Permission.UNIT_STATE, Permission.READ_RECORDS)
def pdf(check: str) -> ResponseReturnValue:
    """The stored bytes, if they are those that were issued; until they are made there is nothing here."""
    match see_pdf(site(), asking.act(), check):
        case PdfSeen(pdf=pdf, issued_as=issued_as) if digest(pdf.content) == issued_as:
            return _file(pdf.content, f"countersign-record-{check[:8]}-{pdf.edition}.pdf")
        case PdfSeen():
            return render_template("parts/refused.html", says=NOT_AS_ISSUED), 500
        case NotFound() | NotAllowed():
            return abort(404)
