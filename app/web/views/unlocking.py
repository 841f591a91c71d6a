"""Lock this screen, and unlock it by six digits: a session of its own each time."""

from flask import Blueprint, redirect, render_template, request, url_for
from flask.typing import ResponseReturnValue
from werkzeug.wrappers import Response

from app.base import Act
from app.people import Asked
from app.web import asking, noting
from app.web.access import public, signed_in
from app.web.acts import wrong_pin_words
from app.web.asking import parts, site
from app.web.coming_back import THEN, address_after, leads_somewhere
from app.web.cookies import keep_cookie
from app.web.forms.signing_in import UnlockForm
from app.web.models.locked import Name, locked_here
from app.web.views.signing_in import without_session
from app.workflow import shift_sessions
from app.workflow.sessions import SignedIn

views = Blueprint("unlocking", __name__)


@views.post("/lock")
@signed_in(asked=Asked.PIN)
def lock() -> ResponseReturnValue:
    """End the session; the shift session stays, and the next one at this screen may be anybody's."""
    return lock_here(request.form.get(THEN, ""))


def lock_here(then: str) -> Response:
    """The same, after a page that had something to keep; whoever unlocks goes on there."""
    shift_sessions.lock(site(), asking.now(), asking.actor())
    return without_session(redirect(url_for("signing_in.handed_over_page", then=then or None), 303))


@views.get("/unlock/<shift_session>")
@public
def page(shift_session: str) -> ResponseReturnValue:
    """Six digits, of whoever was chosen by name."""
    form = UnlockForm()
    form.then.data = request.args.get(THEN, "")
    return _page(shift_session, form)


@views.post("/unlock/<shift_session>")
@public
def unlock(shift_session: str) -> ResponseReturnValue:
    """Go on with a session of one's own."""
    form = UnlockForm(request.form)
    if not form.validate():
        return _page(shift_session, form, status=422)
    outcome = shift_sessions.unlock(
        site(),
        asking.now(),
        shift_session=shift_session,
        device=asking.device(),
        pin=form.pin.data or "",
        before=asking.find_actor(),
    )
    match outcome:
        case SignedIn(token=token, actor=actor, person=person):
            act = Act(now=asking.now(), by=actor, new_id=parts().new_id)
            asked = form.text(THEN)
            to = address_after(site(), asked, act, person) if leads_somewhere(asked) else None
            answer = redirect(to or url_for("lists.my_checks"), 303)
            keep_cookie(answer, parts().settings.session_cookie, token)
            return answer
        case shift_sessions.WrongPin(left=left):
            noting.sign_in_failed()
            form.refuse("pin", wrong_pin_words(left))
            return _page(shift_session, form, status=422)
        case shift_sessions.ShiftOver():
            return _over(form)


def _page(shift_session: str, form: UnlockForm, *, status: int = 200) -> ResponseReturnValue:
    then = form.text(THEN)
    found = _named(shift_session, then)
    if found is None:
        return _over(form)
    return render_template("signing_in/unlock.html", form=form, name=found, then=then), status


def _named(shift_session: str, then: str) -> Name | None:
    """The one with this shift session, of those that live at this device."""
    for each in locked_here(then):
        if each.shift_session == shift_session:
            return each
    return None


def _over(form: UnlockForm) -> ResponseReturnValue:
    """It has ended, or never was of this screen: which of the two is not told."""
    return redirect(url_for("signing_in.sign_in_page", then=form.text(THEN) or None), 303)
