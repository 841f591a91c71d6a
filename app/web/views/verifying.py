"""Verify a record: its PDF goes in, and what holds of it comes out; nothing of it is kept."""

from flask import Blueprint, render_template, request
from flask.typing import ResponseReturnValue

from app.people import Permission
from app.records.verification import NotReadable, Verification
from app.web import asking
from app.web.access import allowed
from app.web.asking import site
from app.workflow.examining import OthersAreExamined, OwnIsExamined, examine

views = Blueprint("verifying", __name__)

LARGEST_RECORD = 4 * 1024 * 1024
_NOTHING = "Choose the PDF of a record."
_OWN = "Another file of yours is being examined. Choose this one again when its answer is there."
_OTHERS = "Two files are being examined, as many as are at once. Choose this one again in a minute."


@views.get("/verify")
@allowed(Permission.READ_RECORDS)
def page() -> ResponseReturnValue:
    """Which file."""
    return _shown()


@views.post("/verify")
@allowed(Permission.READ_RECORDS, file_of=LARGEST_RECORD)
def verify() -> ResponseReturnValue:
    """Every answer about the file.

    Only what was cleared was ever issued as a PDF, and the answers hold no value of it: they say nothing of a
    check that two are still reading for, and no look at patient data is noted.
    """
    given = request.files.get("record")
    content = given.read() if given else b""
    if not content:
        return _shown(fault=_NOTHING), 422
    match examine(site(), asking.actor().person, content, now=asking.now()):
        case Verification() as found:
            return _shown(found=found)
        case NotReadable(why=why):
            return _shown(fault=why), 422
        case OwnIsExamined():
            return _shown(fault=_OWN), 503
        case OthersAreExamined():
            return _shown(fault=_OTHERS), 503


def _shown(**given: object) -> str:
    return render_template("verifying/verify.html", **{"fault": "", "found": None, **given})
