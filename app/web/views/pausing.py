"""Pause the line, and let it run on."""

from flask import Blueprint, abort, redirect, render_template, request, url_for
from flask.typing import ResponseReturnValue

from app.people import Permission
from app.web import asking
from app.web.access import allowed
from app.web.asking import site
from app.web.forms.pausing import ResumeForm
from app.web.models.opening import where
from app.web.models.pausing import refused_words, resume_page
from app.web.shown import moment
from app.words.names import PAUSE_REASONS
from app.workflow import pausing
from app.workflow.looking import find_place_of_infusion
from app.workflow.refusals import NotAllowed, NotFound, NotOnShift

views = Blueprint("pausing", __name__)

SAME, DIFFERS = "yes", "no"
_ELSEWHERE = "Your shift is on another unit. Sign out, and sign in again for this one."
_STOPPED_BEFORE = (
    "Written down. By what stands here the device was stopped before: two nurses check it before it runs. "
    "If that stop was of another bed, the line is paused."
)
_CHANGED = "What is in force has changed since this page was shown. Look at the device again."


@views.get("/infusion/<infusion>/pause")
@allowed(Permission.CHECK, Permission.UNIT_STATE, protects=True)
def pause_page(infusion: str) -> ResponseReturnValue:
    """Why, in one tap."""
    return _pause_page(infusion)


@views.post("/infusion/<infusion>/pause")
@allowed(Permission.CHECK, Permission.UNIT_STATE, protects=True)
def pause_now(infusion: str) -> ResponseReturnValue:
    """Write down that the line is paused."""
    match pausing.pause_line(site(), asking.act(), infusion, why=request.form.get("why", "")):
        case pausing.Paused():
            return redirect(url_for("lists.my_checks"), 303)
        case pausing.PausedWhereStopped():
            return _pause_page(infusion, done=_STOPPED_BEFORE)
        case pausing.AlreadyPaused(by=by, at=at):
            return _pause_page(infusion, says=f"The line is paused already, by {by}, {moment(at)}.")
        case pausing.NotRunning() as refusal:
            return _pause_page(infusion, says=refused_words(refusal))
        case NotFound():
            return abort(404)
        case NotAllowed():
            return abort(403)


def _pause_page(infusion: str, *, says: str = "", done: str = "") -> ResponseReturnValue:
    place = find_place_of_infusion(site(), asking.act(), infusion)
    page = render_template(
        "pausing/pause.html",
        infusion=infusion,
        where=where(place),
        reasons=PAUSE_REASONS,
        says=says,
        done=done,
    )
    return page, 409 if says else 200


@views.get("/infusion/<infusion>/resume")
@allowed(Permission.CHECK)
def resume_now_page(infusion: str) -> ResponseReturnValue:
    """What is looked at before the line runs on."""
    return _resume_page(infusion, ResumeForm())


@views.post("/infusion/<infusion>/resume")
@allowed(Permission.CHECK)
def resume_now(infusion: str) -> ResponseReturnValue:
    """The line runs on, or a second nurse looks too, or it is a stop."""
    form = ResumeForm(request.form)
    if not form.validate():
        return _resume_page(infusion, form, status=422)
    rate = form.text("respiratory_rate")
    look = pausing.Look(
        pause=form.pause.data or 0,
        in_force=form.text("in_force"),
        pressure=form.text("pressure"),
        sedation=form.text("sedation"),
        respiratory_rate=f"{rate} /min" if rate else "",
        same={SAME: True, DIFFERS: False}.get(form.text("same")),
    )
    said = pausing.resume_line(site(), asking.act(), infusion, look=look)
    match said:
        case pausing.Resumed():
            return redirect(url_for("lists.my_checks"), 303)
        case pausing.SecondLookWanted():
            return redirect(url_for("pausing.resume_now_page", infusion=infusion), 303)
        case pausing.BecameStop():
            return _not_resumed(infusion, said)
        case pausing.Unanswered(faults=faults):
            form.refuse_all(faults)
            return _resume_page(infusion, form, status=422)
        case _:
            return _refused(infusion, form, said)


def _refused(
    infusion: str,
    form: ResumeForm,
    refusal: pausing.ShownIsPast | pausing.CannotResume | NotFound | NotAllowed | NotOnShift,
) -> ResponseReturnValue:
    match refusal:
        case pausing.ShownIsPast():
            return _resume_page(infusion, form, says=_CHANGED, status=409)
        case NotOnShift():
            return _resume_page(infusion, form, says=_ELSEWHERE, status=409)
        case NotFound():
            return abort(404)
        case NotAllowed():
            return abort(403)
        case _:
            return _resume_page(infusion, form, says=refused_words(refusal), status=409)


def _not_resumed(infusion: str, said: pausing.BecameStop) -> ResponseReturnValue:
    place = find_place_of_infusion(site(), asking.act(), infusion)
    return render_template("pausing/not_resumed.html", infusion=infusion, where=where(place), said=said)


def _resume_page(
    infusion: str, form: ResumeForm, *, says: str = "", status: int = 200
) -> ResponseReturnValue:
    seen = pausing.see_pause(site(), asking.act(), infusion)
    if isinstance(seen, NotFound):
        return abort(404)
    form.sedation.choices = dict(seen.policy.baseline.levels)
    page = resume_page(seen)
    # Said once, whether it came with the press or stood before.
    says = "" if says == page.refused else says
    return render_template("pausing/resume.html", page=page, form=form, says=says), status
