"""Verify a record: its PDF goes in, and what holds of it comes out; nothing of it is kept."""

from flask import Blueprint, render_template, request
from flask.typing import ResponseReturnValue

from app.auditing.verifying_here import verify_here
from app.people import Permission
from app.records.verification import NotReadable
from app.web import asking
from app.web.access import allowed
from app.web.asking import site

views = Blueprint("verifying", __name__)

LARGEST_RECORD = 4 * 1024 * 1024
_NOTHING = "Choose the PDF of a record."


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
    found = verify_here(site(), asking.now(), content)
    if isinstance(found, NotReadable):
        return _shown(fault=found.why), 422
    return _shown(found=found)


def _shown(**given: object) -> str:
    return render_template("verifying/verify.html", **{"fault": "", "found": None, **given})
