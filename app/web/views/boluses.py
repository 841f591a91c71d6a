"""A bolus given by staff: look, give, look again at its peak."""

from flask import Blueprint, abort, redirect, render_template, request, url_for
from flask.typing import ResponseReturnValue

from app.people import Permission
from app.web import asking
from app.web.access import allowed
from app.web.asking import site
from app.web.forms.boluses import BolusGivenForm, BolusLookForm
from app.web.forms.stopping import stated_moment
from app.web.models.boluses import bolus_page, refused_words
from app.web.models.opening import where
from app.web.shown import clock
from app.workflow import boluses
from app.workflow.bolus_looks import OpenedSince, OutsideSince, StartedSince, TakenOffBefore
from app.workflow.bolus_observing import Observed
from app.workflow.loading import NotTheirs
from app.workflow.looking import find_place_of_infusion
from app.workflow.refusals import NotAllowed, NotFound, NotOnShift

views = Blueprint("boluses", __name__)

_ELSEWHERE = "Your shift is on another unit. Sign out, and sign in again for this one."
_LOOK_FIRST = "Look at the patient first, and write it down: your look counts only for a while."
_OUTSIDE_SINCE = (
    "Nothing was written. At {} a look was outside the protocol: one that was given before is written down "
    "with its time. If it was given after, tell the charge nurse: the account will be short of it."
)
_STARTED_SINCE = (
    "Nothing was written. At {} it was started anew: write when you gave the bolus, before that. If you gave "
    "it after, tell the charge nurse: the account will be short of it."
)
_TAKEN_OFF = (
    "Nothing was written. By the account the syringe that was on when you looked was counted at {}, and "
    "taken off: one that was given before is written down with its time. If it was given after, tell the "
    "charge nurse: the account will be short of it."
)
_OPENED_SINCE = (
    "Nothing was written. At {} a check that changes or ends what runs was opened, and the device stands: "
    "one that was given before is written down with its time. If it was given after, tell the two who check, "
    "and the charge nurse: what was read may leave it out."
)
_NO_LAST = "There is no bolus whose peak is to be written down."


@views.get("/infusion/<infusion>/bolus")
@allowed(Permission.CHECK)
def page(infusion: str) -> ResponseReturnValue:
    """What the order lets staff give, and what comes next."""
    return _page(infusion, BolusLookForm())


@views.post("/infusion/<infusion>/bolus/look")
@allowed(Permission.CHECK)
def look(infusion: str) -> ResponseReturnValue:
    """Sedation and respiratory rate before it."""
    form = BolusLookForm(request.form)
    if not form.validate():
        return _page(infusion, form, status=422)
    said = boluses.look_before(site(), asking.act(), infusion, _observed(form))
    match said:
        case boluses.Outside(says=protocol):
            return _outside(infusion, protocol)
        case boluses.LookedWell():
            return _to_page(infusion)
        case boluses.Unanswered(faults=faults):
            form.refuse_all(faults)
            return _page(infusion, form, status=422)
        case NotOnShift() | NotFound() | NotAllowed():
            return _not_theirs(said)
        case _:
            return _page(infusion, form, says=refused_words(said), status=409)


@views.post("/infusion/<infusion>/bolus")
@allowed(Permission.CHECK)
def give(infusion: str) -> ResponseReturnValue:
    """It was given at the device, now or as it is told later."""
    text = BolusGivenForm(request.form).text("given_at")
    given_at = stated_moment(text, asking.now(), asking.zone())
    said = boluses.give_bolus(site(), asking.act(), infusion, given_at=given_at)
    match said:
        case boluses.Given():
            return _to_page(infusion)
        case boluses.LookFirst():
            return _page(infusion, BolusLookForm(), says=_LOOK_FIRST, status=409)
        case OutsideSince(at=at):
            says = _OUTSIDE_SINCE.format(clock(at))
            return _page(infusion, BolusLookForm(), says=says, status=409)
        case StartedSince(at=at):
            says = _STARTED_SINCE.format(clock(at))
            return _page(infusion, BolusLookForm(), says=says, status=409)
        case TakenOffBefore(at=at):
            says = _TAKEN_OFF.format(clock(at))
            return _page(infusion, BolusLookForm(), says=says, status=409)
        case OpenedSince(at=at):
            says = _OPENED_SINCE.format(clock(at))
            return _page(infusion, BolusLookForm(), says=says, status=409)
        case NotOnShift() | NotFound() | NotAllowed():
            return _not_theirs(said)
        case _:
            return _page(infusion, BolusLookForm(), says=refused_words(said), status=409)


@views.post("/infusion/<infusion>/bolus/peak")
@allowed(Permission.CHECK)
def peak(infusion: str) -> ResponseReturnValue:
    """Sedation and respiratory rate at its peak."""
    form = BolusLookForm(request.form)
    if not form.validate():
        return _page(infusion, form, status=422)
    said = boluses.look_at_peak(site(), asking.act(), infusion, _observed(form))
    match said:
        case boluses.Outside(says=protocol):
            return _outside(infusion, protocol)
        case boluses.LookedWell():
            return redirect(url_for("infusions.page", infusion=infusion), 303)
        case boluses.Unanswered(faults=faults):
            form.refuse_all(faults)
            return _page(infusion, form, status=422)
        case boluses.NotYet(until=until):
            says = f"The effect is greatest at {clock(until)}: observe the patient then. Nothing was written."
            return _page(infusion, form, says=says, status=409)
        case boluses.NotRunning():
            return _page(infusion, form, says=_NO_LAST, status=409)
        case NotOnShift() | NotFound() | NotAllowed():
            return _not_theirs(said)


def _observed(form: BolusLookForm) -> Observed:
    rate = form.text("respiratory_rate")
    return Observed(sedation=form.text("sedation"), respiratory_rate=f"{rate} /min" if rate else "")


def _outside(infusion: str, says: tuple[str, ...]) -> ResponseReturnValue:
    place = find_place_of_infusion(site(), asking.act(), infusion)
    return render_template("boluses/outside.html", infusion=infusion, says=says, where=where(place))


def _to_page(infusion: str) -> ResponseReturnValue:
    return redirect(url_for("boluses.page", infusion=infusion), 303)


def _not_theirs(refusal: NotTheirs) -> ResponseReturnValue:
    match refusal:
        case NotOnShift():
            return render_template("parts/refused.html", says=_ELSEWHERE), 409
        case NotFound():
            return abort(404)
        case NotAllowed():
            return abort(403)


def _page(infusion: str, form: BolusLookForm, *, says: str = "", status: int = 200) -> ResponseReturnValue:
    seen = boluses.see_bolus(site(), asking.act(), infusion)
    if not isinstance(seen, boluses.BolusSeen):
        return _not_theirs(seen)
    form.sedation.choices = dict(seen.policy.baseline.levels)
    page = bolus_page(seen, asking.now())
    says = "" if says == page.refused else says
    given = BolusGivenForm()
    return render_template("boluses/page.html", page=page, form=form, given=given, says=says), status
