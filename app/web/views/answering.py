"""My infusions: hand them over bed by bed, or have a break covered."""

from flask import Blueprint, abort, redirect, render_template, request, url_for
from flask.typing import ResponseReturnValue

from app.people import Permission
from app.web import asking
from app.web.access import allowed
from app.web.asking import site
from app.web.models.answering import mine_page
from app.workflow import answering
from app.workflow.refusals import NotAllowed

views = Blueprint("answering", __name__)

_NOT_LONGER = "Nothing is left to cover. A break that is covered is not made longer: come back, or hand over."


@views.get("/my-infusions")
@allowed(Permission.CHECK)
def page() -> ResponseReturnValue:
    """What this person answers for here."""
    return _page()


@views.post("/my-infusions/break")
@allowed(Permission.CHECK)
def cover_now() -> ResponseReturnValue:
    """Name who covers a break."""
    match answering.cover_break(site(), asking.act(), covers=request.form.get("covers", "")):
        case answering.Covered():
            return redirect(url_for("answering.page"), 303)
        case answering.NoColleague():
            return _page(says="Choose who covers."), 422
        case answering.CoversAnother(whose=whose):
            return _page(says=f"You cover a break of {whose}: that ends first, or becomes a handoff."), 409
        case answering.NothingToCover():
            return _page(says=_NOT_LONGER), 409
        case NotAllowed():
            return abort(403)


@views.post("/my-infusions/back")
@allowed(Permission.CHECK)
def back_now() -> ResponseReturnValue:
    """The break is over."""
    match answering.come_back(site(), asking.act()):
        case answering.Back():
            return redirect(url_for("answering.page"), 303)
        case answering.NotOnBreak():
            return _page(says="No break of yours is covered now."), 409
        case NotAllowed():
            return abort(403)


def _page(*, says: str = "") -> str:
    seen = answering.my_infusions(site(), asking.act())
    return render_template("answering/page.html", page=mine_page(seen), says=says)
