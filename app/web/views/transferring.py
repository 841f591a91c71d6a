"""Take a patient over from another unit by one tap at the bedside."""

from flask import Blueprint, abort, redirect, render_template, request, url_for
from flask.typing import ResponseReturnValue

from app.people import Permission
from app.web import asking
from app.web.access import allowed
from app.web.asking import site
from app.web.forms.transferring import TakeForm
from app.web.models.lists import place
from app.web.models.transferring import transfer_shown
from app.words.screens import no_such_bed
from app.workflow import changing, transferring
from app.workflow.beds import beds_of_unit
from app.workflow.looking import unit_names
from app.workflow.refusals import NoSuchBed, NoSuchUnit, NotAllowed, NotFound, NotOnShift

views = Blueprint("transferring", __name__)

_ELSEWHERE = "Your shift is on another unit than when this page was shown. Look at the bed, and try again."

_OPEN_THERE = (
    "A check of it is open on the other unit. Its two finish it there; or is the patient here already? Then "
    "take the patient: that check ends, given up."
)


@views.get("/take")
@allowed(Permission.CHECK)
def take_page() -> ResponseReturnValue:
    """From which unit and bed, and to which bed here."""
    return _page(_form())


@views.post("/take")
@allowed(Permission.CHECK)
def take_now() -> ResponseReturnValue:
    """From this tap on whoever sent it answers for the infusion."""
    form = _form()
    if not form.validate():
        return _page(form), 422
    said = transferring.take_patient(
        site(),
        asking.act(),
        before=(form.text("unit"), form.text("before")),
        unit=form.text("here"),
        bed=form.text("bed"),
        gives_up=request.form.get("gives_up", ""),
    )
    match said:
        case transferring.Taken(infusion=infusion):
            return redirect(url_for("transferring.taken_page", infusion=infusion), 303)
        case NotAllowed():
            return abort(403)
        case transferring.OpenThere(check=check):
            return _page(form, says=_OPEN_THERE, gives_up=check), 409
        case transferring.AlreadyTaken() | transferring.SeveralRun() | NotOnShift():
            return _page(form, says=_why_not(said)), 409
        case _:
            form.refuse(*_said_of_the_place(said))
            return _page(form), 422


@views.get("/infusion/<infusion>/taken")
@allowed(Permission.CHECK)
def taken_page(infusion: str) -> ResponseReturnValue:
    """Who answers for it now, and that two read it."""
    match transferring.see_transfer(site(), asking.act(), infusion):
        case transferring.TransferSeen() as seen:
            return render_template("transferring/taken.html", page=transfer_shown(seen))
        case NotFound():
            return abort(404)


def _why_not(
    refusal: transferring.AlreadyTaken | transferring.SeveralRun | NotOnShift,
) -> str:
    match refusal:
        case transferring.AlreadyTaken(by=by, unit=unit, bed=bed):
            return f"{by} took this patient already, to {place(unit, bed)}. Nothing more was written."
        case transferring.SeveralRun():
            return (
                "By the log two infusions run at that bed. Look at both, and let the other unit write down "
                "which one was stopped; then take the patient."
            )
        case NotOnShift():
            return _ELSEWHERE


def _said_of_the_place(
    refusal: transferring.NothingThere
    | transferring.SameUnit
    | transferring.NoSuchBedThere
    | changing.Occupied
    | NoSuchUnit
    | NoSuchBed,
) -> tuple[str, str]:
    """The field at fault, and how to put it right."""
    match refusal:
        case transferring.NothingThere():
            return "before", (
                "Nothing runs at that bed, and nothing was stopped there lately: look at bed and unit."
            )
        case transferring.SameUnit():
            return "unit", "That is your own unit: where only the bed changes, say so under Change something."
        case transferring.NoSuchBedThere(beds=beds):
            return "before", no_such_bed(beds)
        case changing.Occupied(bed=bed):
            return "bed", f"Bed {bed} is occupied: an infusion runs or is checked there."
        case NoSuchUnit():
            return "unit", "Choose the unit."
        case NoSuchBed(beds=beds):
            return "bed", no_such_bed(beds)


def _form() -> TakeForm:
    form = TakeForm(request.form if request.method == "POST" else None)
    here = asking.actor().unit
    form.unit.choices = {"": "Choose"} | {
        each: name for each, name in unit_names(site()).items() if each != here
    }
    if request.method == "GET":
        form.here.data = here
    return form


def _page(form: TakeForm, *, says: str = "", gives_up: str = "") -> str:
    here = asking.actor().unit
    return render_template(
        "transferring/take.html",
        form=form,
        says=says,
        gives_up=gives_up,
        here=unit_names(site()).get(here, here),
        beds=beds_of_unit(site(), here),
    )
