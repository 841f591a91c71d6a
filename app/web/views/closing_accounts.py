"""Close an account that was left open, with the reason."""

import re

from flask import Blueprint, abort, redirect, render_template, request, url_for
from flask.typing import ResponseReturnValue

from app.people import Permission
from app.web import asking
from app.web.access import allowed
from app.web.asking import site
from app.web.forms.settling import CloseAccountForm
from app.workflow import closing_accounts
from app.workflow.refusals import Incomplete, NotAllowed, NotFound

views = Blueprint("closing_accounts", __name__)

_POSITION = re.compile(r"[0-9]{1,18}")
_REFUSED: dict[type[closing_accounts.NotClosed], str] = {
    closing_accounts.StillChecked: "The two of its check are not done yet: they sign first.",
    closing_accounts.OneOfTheTwo: (
        "You counted it or wrote it down yourself. Another charge nurse closes it."
    ),
    closing_accounts.MoreSince: (
        "Nothing was closed: more was found, or written down, since you looked. It stands below now. Look at "
        "it first, then close all of it."
    ),
}


@views.get("/infusion/<infusion>/account/close")
@allowed(Permission.CLOSE_ACCOUNT)
def page(infusion: str) -> ResponseReturnValue:
    """Why it is closed."""
    return _page(infusion, CloseAccountForm())


@views.post("/infusion/<infusion>/account/close")
@allowed(Permission.CLOSE_ACCOUNT)
def close(infusion: str) -> ResponseReturnValue:
    """Close it."""
    form = CloseAccountForm(request.form)
    if not form.validate():
        return _page(infusion, form, status=422)
    roles = asking.person().roles
    match closing_accounts.close_account(
        site(), asking.act(), roles, infusion, reason=form.text("reason"), shown=_shown()
    ):
        case closing_accounts.Closed() | closing_accounts.NothingOpen():
            return redirect(url_for("lists.my_checks"), 303)
        case Incomplete():
            form.refuse("reason", "Write the reason.")
            return _page(infusion, form, status=422)
        case NotFound():
            return abort(404)
        case NotAllowed():
            return abort(403)
        case refused:
            return _page(infusion, form, status=409, says=_REFUSED[type(refused)])


def _shown() -> list[int]:
    """The entries that stood on the page from which this was sent."""
    return [int(each) for each in request.form.getlist("shown") if _POSITION.fullmatch(each)]


def _page(infusion: str, form: CloseAccountForm, *, status: int = 200, says: str = "") -> ResponseReturnValue:
    found = closing_accounts.find_open_account(site(), asking.act(), asking.person().roles, infusion)
    if found is None:
        return abort(404)
    made = render_template("closing_accounts/page.html", account=found, form=form, says=says)
    return made, status
