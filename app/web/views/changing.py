"""Check or change what was started: what may be opened, and what one nurse does at once."""

from flask import Blueprint, abort, render_template, request
from flask.typing import ResponseReturnValue

from app.people import Permission
from app.records.beds import LONGEST_BED
from app.web import asking
from app.web.access import allowed
from app.web.asking import site
from app.web.forms.changing import BedForm
from app.web.models.changing import change_page
from app.words.names import LOWERED_REASONS
from app.words.screens import no_such_bed
from app.workflow import changing
from app.workflow.beds import beds_of_unit
from app.workflow.refusals import NoSuchBed, NotAllowed, NotFound, NotOnShift

views = Blueprint("changing", __name__)

_ELSEWHERE = "Your shift is on another unit. Sign out, and sign in again for this one."


@views.get("/infusion/<infusion>/change")
@allowed(Permission.CHECK, Permission.UNIT_STATE, protects=True)
def page(infusion: str) -> ResponseReturnValue:
    """What may be changed, and how."""
    return _page(infusion)


@views.post("/infusion/<infusion>/lowered")
@allowed(Permission.CHECK, Permission.UNIT_STATE, protects=True)
def lower_now(infusion: str) -> ResponseReturnValue:
    """Write down that a dose was lowered for safety."""
    match changing.note_lowered(site(), asking.act(), infusion, why=request.form.get("why", "")):
        case changing.Lowered():
            return _page(infusion, done="Written down: the dose was lowered for safety.")
        case changing.HasEnded():
            return _page(infusion, says="This infusion does not run: there is nothing to lower."), 409
        case NotFound():
            return abort(404)
        case NotAllowed():
            return abort(403)


@views.post("/infusion/<infusion>/bed")
@allowed(Permission.CHECK)
def change_bed(infusion: str) -> ResponseReturnValue:
    """Write down that it is at another bed now."""
    form = BedForm(request.form)
    said = changing.change_bed(site(), asking.act(), infusion, bed=form.text("bed")[:LONGEST_BED])
    match said:
        case changing.BedKept(bed=bed):
            return _page(infusion, done=f"Written down: it is at bed {bed} now.")
        case NotFound():
            return abort(404)
        case NotAllowed():
            return abort(403)
        case _:
            form.refuse("bed", _why_not_there(said))
            return _page(infusion, form=form), 422


def _why_not_there(
    refusal: changing.SameBed
    | changing.Occupied
    | changing.CheckIsOpen
    | changing.HasEnded
    | NoSuchBed
    | NotOnShift,
) -> str:
    match refusal:
        case changing.SameBed():
            return "It is at this bed already."
        case changing.Occupied(bed=bed):
            return f"Bed {bed} is occupied: an infusion runs or is checked there."
        case changing.CheckIsOpen():
            return "A check is open at the bed that it leaves: finish it or end it first."
        case changing.HasEnded():
            return "This infusion has ended, or never started."
        case NoSuchBed(beds=beds):
            return no_such_bed(beds)
        case NotOnShift():
            return _ELSEWHERE


def _page(infusion: str, *, says: str = "", done: str = "", form: BedForm | None = None) -> str:
    match changing.see_change(site(), asking.act(), infusion):
        case changing.ChangeSeen() as seen:
            return render_template(
                "changing/page.html",
                page=change_page(seen),
                reasons=LOWERED_REASONS,
                says=says,
                done=done,
                form=form or BedForm(),
                beds=beds_of_unit(site(), asking.actor().unit),
            )
        case _:
            return abort(404)
