"""Change something of what was started: what may be opened, and what one nurse does at once."""

from flask import Blueprint, abort, render_template, request
from flask.typing import ResponseReturnValue

from app.people import Permission
from app.web import asking
from app.web.access import allowed
from app.web.asking import site
from app.web.models.changing import change_page
from app.words.names import LOWERED_REASONS
from app.workflow import changing
from app.workflow.refusals import NotAllowed, NotFound, NotOnShift

views = Blueprint("changing", __name__)

_ELSEWHERE = "Your shift is on another unit. Sign out, and sign in again for this one."


@views.get("/infusion/<infusion>/change")
@allowed(Permission.CHECK, protects=True)
def page(infusion: str) -> ResponseReturnValue:
    """What may be changed, and how."""
    return _page(infusion)


@views.post("/infusion/<infusion>/lowered")
@allowed(Permission.CHECK, protects=True)
def lower_now(infusion: str) -> ResponseReturnValue:
    """Write down that a dose was lowered for safety."""
    match changing.note_lowered(site(), asking.act(), infusion, why=request.form.get("why", "")):
        case changing.Lowered():
            return _page(infusion, done="Written down: the dose was lowered for safety.")
        case changing.HasEnded():
            return _page(infusion, says="This infusion does not run: there is nothing to lower."), 409
        case NotOnShift():
            return _page(infusion, says=_ELSEWHERE), 409
        case NotFound():
            return abort(404)
        case NotAllowed():
            return abort(403)


def _page(infusion: str, *, says: str = "", done: str = "") -> str:
    match changing.see_change(site(), asking.act(), infusion):
        case changing.ChangeSeen() as seen:
            return render_template(
                "changing/page.html", page=change_page(seen), reasons=LOWERED_REASONS, says=says, done=done
            )
        case _:
            return abort(404)
