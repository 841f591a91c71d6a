"""The last look, and the start."""

from flask import Blueprint, abort, redirect, render_template, request, url_for
from flask.typing import ResponseReturnValue

from app.people import Permission
from app.records.restarting import HeldBack
from app.records.state import Phase
from app.web import asking
from app.web.access import allowed
from app.web.acts import find_part, get_own, say_not_confirmed, to_check
from app.web.asking import site
from app.web.forms.confirming import LastLookForm
from app.web.models.check import chosen_slot
from app.web.models.starting import start_page
from app.words.checking import not_started_words
from app.words.emergencies import held_back_words
from app.workflow import starting
from app.workflow.confirming import NotConfirmed
from app.workflow.elsewhere import RunsElsewhere
from app.workflow.looking import Seen
from app.workflow.refusals import Incomplete, NotFound, NotNow, NotYours

views = Blueprint("starting", __name__)

SAME, DIFFERS = "yes", "no"


@views.get("/check/<check>/start")
@allowed(Permission.CHECK)
def page(check: str) -> ResponseReturnValue:
    """The agreed values beside the device."""
    seen = get_own(check)
    if seen.loaded.state.phase is not Phase.CLEARED:
        return to_check(check)
    return _start_page(seen, LastLookForm())


@views.post("/check/<check>/last-look")
@allowed(Permission.CHECK)
def last_look(check: str) -> ResponseReturnValue:
    """The device shows exactly this, or it differs."""
    form = LastLookForm(request.form)
    if form.text("same") not in (SAME, DIFFERS):
        form.refuse("same", "Look at the device, then say which it is.")
        return _looked_in_vain(check, form)
    part = find_part(form) if form.validate() else None
    if part is None:
        return _looked_in_vain(check, form)
    match starting.take_last_look(site(), asking.act(), check, same=form.text("same") == SAME, part=part):
        case starting.Looked():
            return redirect(url_for("starting.page", check=check), 303)
        case NotConfirmed() as refusal:
            say_not_confirmed(form, refusal)
            return _looked_in_vain(check, form)
        case RunsElsewhere() | HeldBack() as refusal:
            return _start_page(get_own(check), form, says=_not_started(refusal), status=409)
        case starting.NotTheSame() | NotNow():
            return to_check(check)
        case NotFound() | NotYours():
            return abort(404)


def _looked_in_vain(check: str, form: LastLookForm) -> ResponseReturnValue:
    seen = get_own(check)
    if seen.loaded.state.phase is not Phase.CLEARED:
        return to_check(check)
    return _start_page(seen, form, status=422)


@views.post("/check/<check>/start")
@allowed(Permission.CHECK)
def start(check: str) -> ResponseReturnValue:
    """Note that the infusion runs."""
    match starting.start_infusion(site(), asking.act(), check):
        # Noted now, or by the same press a moment before.
        case starting.StartNoted() | NotNow(phase=Phase.STARTED):
            return redirect(url_for("record.page", check=check), 303)
        case NotNow():
            return to_check(check)
        case Incomplete():
            says = "Each of the two takes a last look first."
            return _start_page(get_own(check), LastLookForm(), says=says, status=409)
        case RunsElsewhere() | HeldBack() as refusal:
            return _start_page(get_own(check), LastLookForm(), says=_not_started(refusal), status=409)
        case NotFound() | NotYours():
            return abort(404)


def _not_started(refusal: RunsElsewhere | HeldBack) -> str:
    match refusal:
        case RunsElsewhere(says=where):
            return not_started_words(where)
        case HeldBack():
            return f"Do not start. {held_back_words(refusal)}"


def _start_page(seen: Seen, form: LastLookForm, *, says: str = "", status: int = 200) -> ResponseReturnValue:
    slot = chosen_slot(seen, request.values.get("by", ""), together=True)
    return render_template("starting/start.html", page=start_page(seen, slot), form=form, says=says), status
