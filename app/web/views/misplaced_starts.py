"""A start without a check that was of another bed: whoever wrote it down says so."""

from flask import Blueprint, abort, redirect, render_template, url_for
from flask.typing import ResponseReturnValue

from app.people import Permission
from app.web import asking
from app.web.access import allowed
from app.web.asking import site
from app.web.models.lists import place
from app.workflow import misplaced_starts
from app.workflow.refusals import NotFound, NotYours

views = Blueprint("misplaced_starts", __name__)

_BUILT_ON = (
    "It stays: two nurses have checked what runs there since, the patient was taken to another unit, or drug "
    "of it was written down. Nothing was changed. Tell the charge nurse."
)
_CHECK_IS_OPEN = "A check of it is open at that bed: it comes to its end first. Nothing was changed."


@views.get("/started-without-check/<int:note>/another-bed")
@allowed(Permission.CHECK)
def page(note: int) -> ResponseReturnValue:
    """What follows where it was another bed."""
    return _page(note)


@views.post("/started-without-check/<int:note>/another-bed")
@allowed(Permission.CHECK)
def another_bed(note: int) -> ResponseReturnValue:
    """Its author says that it was another bed, and writes it down at the right one."""
    match misplaced_starts.say_elsewhere(site(), asking.act(), note):
        case misplaced_starts.SaidElsewhere():
            return redirect(url_for("stopping.without_check_page", put_right=note), 303)
        case misplaced_starts.BuiltOn():
            return _page(note, says=_BUILT_ON)
        case misplaced_starts.CheckOpenThere(check=check):
            return _page(note, says=_CHECK_IS_OPEN, check=check)
        case NotYours() | NotFound():
            return abort(404)


def _page(note: int, *, says: str = "", check: str = "") -> ResponseReturnValue:
    own = misplaced_starts.find_own_start(site(), asking.act(), note)
    if own is None:
        return abort(404)
    if not own.counts:
        return redirect(url_for("stopping.without_check_page", put_right=note), 303)
    where = place(own.unit, own.bed)
    return (
        render_template("misplaced_starts/page.html", own=own, where=where, says=says, check=check),
        409 if says else 200,
    )
