"""The safety steps: the first does and tells, the second verifies, group by group."""

from typing import TypeVar

from flask import Blueprint, abort, redirect, render_template, request, url_for
from flask.typing import ResponseReturnValue

from app.people import Permission
from app.quantities import Fault
from app.records.state import Phase
from app.web.access import allowed
from app.web.asking import site
from app.web.confirming import find_act
from app.web.forms.confirming import BaselineForm, ConfirmForm, PrimedVolumeForm, StepsForm
from app.web.models.check import chosen_slot
from app.web.models.stepping import is_together, steps_page
from app.web.seeing import get_seen
from app.workflow import stepping
from app.workflow.looking import Seen
from app.workflow.refusals import Incomplete, NotFound, NotNow, NotYours

views = Blueprint("stepping", __name__)

_NOT_IN_TURN = "One of these waits: for its group, for the other nurse, or for something to be written down."


@views.get("/check/<check>/steps")
@allowed(Permission.CHECK)
def page(check: str) -> ResponseReturnValue:
    """The steps that are open, in the words of one nurse's part."""
    seen = _own(check)
    if not stepping.open_steps(seen.loaded.state):
        return _to_signing(check) if seen.loaded.state.phase is Phase.SIGNING else _to_check(check)
    return _steps(seen, StepsForm())


def _steps(
    seen: Seen, form: StepsForm, *, ticked: list[str] | None = None, says: str = "", status: int = 200
) -> ResponseReturnValue:
    shown = steps_page(seen, _slot(seen), ticked=ticked or ())
    return render_template("stepping/steps.html", page=shown, form=form, says=says), status


@views.post("/check/<check>/steps")
@allowed(Permission.CHECK)
def confirm(check: str) -> ResponseReturnValue:
    """Confirm the ticked steps in one nurse's part, on either one's screen."""
    seen, form, ticked = _own(check), StepsForm(request.form), request.form.getlist("step")
    valid = form.validate()
    if not ticked:
        form.refuse("step", "Tick what was done, or seen, with your own eyes.")
    act = find_act(seen, form) if valid and ticked else None
    if act is None:
        return _steps(seen, form, ticked=ticked, status=422)
    match stepping.confirm_steps(site(), act, check, steps=tuple(ticked)):
        case stepping.Confirmed(complete=complete):
            return _to_signing(check) if complete else _to_steps(check)
        case stepping.OutOfTurn():
            return _steps(_own(check), form, ticked=ticked, says=_NOT_IN_TURN, status=409)
        case NotNow():
            return _to_check(check)
        case NotFound() | NotYours():
            return abort(404)


@views.get("/check/<check>/steps/baseline")
@allowed(Permission.CHECK)
def baseline_page(check: str) -> ResponseReturnValue:
    """Sedation, respiratory rate and SpO2 before any dose."""
    return _baseline(_own(check), BaselineForm())


def _baseline(seen: Seen, form: BaselineForm, status: int = 200) -> ResponseReturnValue:
    rule = seen.loaded.policy.baseline
    form.sedation.choices = dict(rule.levels)
    return _entry("stepping/baseline.html", seen, form, status)


@views.post("/check/<check>/steps/baseline")
@allowed(Permission.CHECK)
def observe_baseline(check: str) -> ResponseReturnValue:
    """Write down what was observed."""
    seen, form = _own(check), BaselineForm(request.form)
    form.sedation.choices = dict(seen.loaded.policy.baseline.levels)
    act = find_act(seen, form) if form.validate() else None
    if act is None:
        return _baseline(seen, form, 422)
    match stepping.observe_baseline(
        site(),
        act,
        check,
        sedation=form.text("sedation"),
        respiratory_rate=f"{form.text('respiratory_rate')} /min",
        spo2=f"{form.text('spo2')} %",
    ):
        case stepping.Confirmed() | stepping.DoNotStart():
            return _to_steps(check)
        case stepping.Malformed(faults=faults):
            return _baseline(seen, _malformed(form, faults), 422)
        case Incomplete():
            form.refuse("sedation", "Choose the level.")
            return _baseline(seen, form, 422)
        case stepping.OutOfTurn() | NotNow():
            return _to_steps(check)
        case NotFound() | NotYours():
            return abort(404)


@views.get("/check/<check>/steps/primed-volume")
@allowed(Permission.CHECK)
def primed_page(check: str) -> ResponseReturnValue:
    """The primed volume, read without sight of the other's reading."""
    return _entry("stepping/primed_volume.html", _own(check), PrimedVolumeForm())


@views.post("/check/<check>/steps/primed-volume")
@allowed(Permission.CHECK)
def read_primed(check: str) -> ResponseReturnValue:
    """Hand in the primed volume."""
    seen, form = _own(check), PrimedVolumeForm(request.form)
    act = find_act(seen, form) if form.validate() else None
    if act is None:
        return _entry("stepping/primed_volume.html", seen, form, 422)
    match stepping.read_primed_volume(site(), act, check, volume=f"{form.text('volume')} mL"):
        case stepping.VolumeRead() | stepping.OutOfTurn() | NotNow():
            return _to_steps(check)
        case stepping.Malformed(faults=faults):
            return _entry("stepping/primed_volume.html", seen, _malformed(form, faults), 422)
        case NotFound() | NotYours():
            return abort(404)


def _entry(template: str, seen: Seen, form: ConfirmForm, status: int = 200) -> ResponseReturnValue:
    slot = _slot(seen)
    shown = steps_page(seen, slot)
    return render_template(template, page=shown, form=form), status


AnyForm = TypeVar("AnyForm", bound=ConfirmForm)


def _malformed(form: AnyForm, faults: dict[str, Fault]) -> AnyForm:
    for name, fault in faults.items():
        form.refuse(name, fault.says)
    return form


def _own(check: str) -> Seen:
    """The check, for one of its two."""
    seen = get_seen(check)
    if seen.slot is None:
        abort(404)
    return seen


def _slot(seen: Seen) -> int:
    return chosen_slot(seen, request.values.get("by", ""), together=is_together(seen.loaded.state))


def _to_steps(check: str) -> ResponseReturnValue:
    return redirect(url_for("stepping.page", check=check), 303)


def _to_signing(check: str) -> ResponseReturnValue:
    return redirect(url_for("signing.page", check=check), 303)


def _to_check(check: str) -> ResponseReturnValue:
    return redirect(url_for("comparison.page", check=check), 303)
