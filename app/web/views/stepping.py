"""The safety steps: whoever did one says so, the other verifies it, group by group."""

from collections.abc import Iterable
from datetime import datetime

from flask import Blueprint, abort, redirect, render_template, request, url_for
from flask.typing import ResponseReturnValue

from app.base import Act
from app.people import Permission
from app.quantities import Fault
from app.quantities.scanned import read_scan
from app.records.state import Phase
from app.records.steps import DONE, VERIFIED
from app.web import asking
from app.web.access import allowed
from app.web.acts import find_part, get_own, say_not_confirmed, to_check
from app.web.asking import site
from app.web.forms.confirming import StepsForm
from app.web.models.check import chosen_slot
from app.web.models.stepping import is_together, steps_page
from app.workflow import step_typing, stepping
from app.workflow.confirming import NotConfirmed, Part
from app.workflow.looking import Seen
from app.workflow.refusals import NotFound, NotNow, NotYours

views = Blueprint("stepping", __name__)

_NOT_IN_TURN = "One of these waits: for its group, for the other nurse, or for something to be written down."
_NOTHING = "Tick what was done, or seen, with your own eyes, or write what is asked for."
_OWN_EYES = "What is written is by whoever writes it: say that you did it, or leave it blank."
_NO_PATIENT = "This code does not say who the patient is. Scan the wristband, or write what is printed."
# What the second of the two buttons says of the steps that are ticked.
_THE_OTHER = "other"


@views.get("/check/<check>/steps")
@allowed(Permission.CHECK)
def page(check: str) -> ResponseReturnValue:
    """The steps that are open, in the words of one nurse's part."""
    seen = get_own(check)
    if not stepping.open_steps(seen.loaded.state):
        return _to_signing(check) if seen.loaded.state.phase is Phase.SIGNING else to_check(check)
    if _slot(seen) != seen.slot:
        return _steps(seen, StepsForm())
    before = step_typing.typed_before(site(), asking.act(), seen)
    return _steps(seen, StepsForm(data=before.fields), back_since=before.at)


def _keep_what_came_late(act: Act, check: str) -> None:
    """The session ran out before the press: what was typed is there after signing in again."""
    _keep_typing(act, check)


def _keep_typing(
    act: Act, check: str
) -> step_typing.TypingKept | step_typing.TypingNotKept | NotFound | NotYours | NotNow:
    form = StepsForm(request.form)
    typed = {name: form.text(name) for name in (*step_typing.OBSERVED_FIELDS, *step_typing.READ_FIELDS)}
    return step_typing.keep_step_typing(site(), act, check, typed)


@views.post("/check/<check>/steps/typing")
@allowed(Permission.CHECK, late=_keep_what_came_late)
def keep_typing(check: str) -> ResponseReturnValue:
    """Keep what stands in the fields while it is written; it counts only once a press says it."""
    match _keep_typing(asking.act(), check):
        case step_typing.TypingKept():
            return "", 204
        case step_typing.TypingNotKept() | NotNow():
            return "", 409
        case NotFound() | NotYours():
            return abort(404)


def _steps(
    seen: Seen,
    form: StepsForm,
    *,
    ticked: Iterable[str] = (),
    says: str = "",
    status: int = 200,
    back_since: datetime | None = None,
) -> ResponseReturnValue:
    form.sedation.choices = dict(seen.loaded.policy.baseline.levels)
    shown = steps_page(seen, _slot(seen), ticked=ticked)
    made = render_template("stepping/steps.html", page=shown, form=form, says=says, back_since=back_since)
    return made, status


@views.post("/check/<check>/steps")
@allowed(Permission.CHECK, late=_keep_what_came_late)
def confirm(check: str) -> ResponseReturnValue:
    """Take what is ticked and written in one nurse's part, on either one's screen."""
    form = StepsForm(request.form)
    given = _given(form)
    part = find_part(form) if given else None
    answered = _take(check, form, given, part) if given and part else None
    return answered or _steps(get_own(check), form, ticked=_ticked(), status=422)


def _ticked() -> tuple[str, ...]:
    """Everything that is ticked, whatever is said of it."""
    return (*request.form.getlist(DONE), *request.form.getlist(VERIFIED))


def _take(check: str, form: StepsForm, given: stepping.Given, part: Part) -> ResponseReturnValue | None:
    """What follows; None with the faults beside their fields."""
    match stepping.take_steps(site(), asking.act(), check, given, part=part):
        case stepping.Taken(complete=True):
            return _to_signing(check)
        case stepping.Taken() | stepping.DoNotStart() | stepping.AnotherPatient():
            return _to_steps(check)
        case stepping.Malformed(faults=faults):
            form.refuse_all(faults)
        case NotConfirmed() as refusal:
            say_not_confirmed(form, refusal)
        case stepping.OutOfTurn():
            return _steps(get_own(check), form, ticked=_ticked(), says=_NOT_IN_TURN, status=409)
        case NotNow():
            return to_check(check)
        case NotFound() | NotYours():
            return abort(404)
    return None


def _given(form: StepsForm) -> stepping.Given | None:
    """What the form says of the steps; None with the faults beside their fields."""
    valid = form.validate()
    if form.refuse_what_is_left_out() or not valid:
        return None
    patient = _patient(form)
    if isinstance(patient, Fault):
        form.refuse("patient", patient.says)
        return None
    done, is_other = tuple(request.form.getlist(DONE)), form.text("who") == _THE_OTHER
    given = stepping.Given(
        done=() if is_other else done,
        named=done if is_other else (),
        verified=tuple(request.form.getlist(VERIFIED)),
        observed=stepping.Observed(
            sedation=form.text("sedation"),
            respiratory_rate=f"{form.text('respiratory_rate')} /min",
            spo2=f"{form.text('spo2')} %",
        )
        if form.is_observed()
        else None,
        primed=stepping.PrimedVolume(volume=f"{form.text('volume')} mL", round=form.volume_round.data or 0)
        if form.text("volume")
        else None,
        patient=patient or None,
    )
    if given == stepping.Given():
        form.refuse("step", _NOTHING)
        return None
    if is_other and (given.observed or given.primed or given.patient):
        form.refuse("step", _OWN_EYES)
        return None
    return given


def _patient(form: StepsForm) -> str | Fault:
    """Who the patient is, by what was typed or by a whole code that was scanned there."""
    text = form.text("patient")
    scanned = read_scan(text, asking.now().date())
    if isinstance(scanned, Fault):
        return text
    # By chance a typed number may look like one part of a code.
    is_code = len(scanned) > 1
    return scanned.get("identifier") or (Fault(code="scan", says=_NO_PATIENT) if is_code else text)


def _slot(seen: Seen) -> int:
    return chosen_slot(seen, request.values.get("by", ""), together=is_together(seen.loaded.state))


def _to_steps(check: str) -> ResponseReturnValue:
    return redirect(url_for("stepping.page", check=check), 303)


def _to_signing(check: str) -> ResponseReturnValue:
    return redirect(url_for("signing.page", check=check), 303)
