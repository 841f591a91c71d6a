"""A syringe is issued for a bed; what is not put on goes back unopened."""

from flask import Blueprint, abort, redirect, render_template, request, url_for
from flask.typing import ResponseReturnValue

from app.people import Asked, Permission
from app.web import asking
from app.web.access import allowed
from app.web.asking import site
from app.web.forms.issuing import IssueForm, TakenForm
from app.web.models.issuing import OutShown, out_shown
from app.words.screens import no_such_bed
from app.workflow import issuing_syringes
from app.workflow.beds import beds_of_unit
from app.workflow.issuing_syringes import Given
from app.workflow.looking import find_place_of_infusion, unit_names
from app.workflow.refusals import (
    NoSuchBed,
    NoSuchUnit,
    NotAllowed,
    NotFound,
    NotOnShift,
    ReadsBlind,
    TooManyTries,
    WrongCredential,
)
from app.workflow.witnessing import Unwritable

views = Blueprint("issuing", __name__)

_BLIND = (
    "You read at this bed, each alone. Write it down once your readings agree; a colleague may do it now."
)
_ELSEWHERE = "Your shift is on another unit. Sign out, and sign in again for this one."
_OUT_ALREADY = (
    "A syringe with this number was issued for this bed, and is not put on yet. "
    "If this is one more of the same lot, say so below; if not, it is written down already."
)
_NOTHING_OUT = "It was put on, or given back, since the page was shown."
_NOT_THEIRS = "A pharmacist signs for it, who is not the one who had it. Nothing was written."
_WRONG = "Id and secret do not belong together. Nothing was written."


@views.get("/issue")
@allowed(Permission.UNIT_STATE)
def page() -> ResponseReturnValue:
    """Ask what there is to write of it."""
    form = _form()
    form.unit.data = asking.actor().unit
    return _page(form)


@views.get("/infusion/<infusion>/issue")
@allowed(Permission.UNIT_STATE)
def page_of_infusion(infusion: str) -> ResponseReturnValue:
    """The same, the bed written in."""
    found = find_place_of_infusion(site(), asking.act(), infusion)
    if found is None:
        abort(404)
    form = _form()
    units = {name: unit for unit, name in unit_names(site()).items()}
    form.unit.data, form.bed.data = units.get(found.unit), found.bed
    return _page(form)


@views.post("/issue")
@allowed(Permission.UNIT_STATE)
def note() -> ResponseReturnValue:
    """Write it down."""
    form = _form()
    if not form.validate():
        return _page(form, status=422)
    given = Given(
        source=form.text("source"),
        giver=form.text("giver"),
        receiver=form.text("receiver"),
        number=form.text("number"),
        volume=f"{form.text('volume')} mL",
        sealed=form.text("sealed"),
        another=bool(form.another.data),
    )
    said = issuing_syringes.note_issued(
        site(), asking.act(), unit=form.text("unit"), bed=form.text("bed"), given=given
    )
    match said:
        case issuing_syringes.Noted(infusion=infusion):
            return redirect(url_for("infusions.page", infusion=infusion), 303)
        case Unwritable(faults=faults):
            form.refuse_all(faults)
            return _page(form, status=422)
        case issuing_syringes.OutAlready():
            return _page(form, says=_OUT_ALREADY, asks_another=True, status=409)
        case NoSuchUnit():
            form.refuse("unit", "Choose the unit.")
            return _page(form, status=422)
        case NoSuchBed(beds=beds):
            form.refuse("bed", no_such_bed(beds))
            return _page(form, status=422)
        case _:
            return _refused(said)


@views.get("/infusion/<infusion>/issued/<int:position>")
@allowed(Permission.UNIT_STATE)
def back_page(infusion: str, position: int) -> ResponseReturnValue:
    """Who takes it back."""
    return _back_page(infusion, position, TakenForm())


@views.post("/infusion/<infusion>/issued/<int:position>")
@allowed(Permission.UNIT_STATE, asked=Asked.IN_ITS_FORM)
def give_back(infusion: str, position: int) -> ResponseReturnValue:
    """It goes back unopened, once a pharmacist has signed for it."""
    form = TakenForm(request.form)
    if not form.validate():
        return _back_page(infusion, position, form, status=422)
    said = issuing_syringes.give_back(
        site(), asking.act(), infusion, position, login=form.text("login"), secret=form.secret.data or ""
    )
    match said:
        case issuing_syringes.Noted() | issuing_syringes.NothingOut():
            return redirect(url_for("infusions.page", infusion=infusion), 303)
        case issuing_syringes.NotTheirs():
            form.refuse("login", _NOT_THEIRS)
        case WrongCredential():
            form.refuse("secret", _WRONG)
        case TooManyTries(seconds=seconds):
            form.refuse("secret", f"Too many tries with this id. Wait {seconds} s, then try again.")
        case _:
            return _refused(said)
    return _back_page(infusion, position, form, status=422)


@views.post("/infusion/<infusion>/issued/<int:position>/gone")
@allowed(Permission.UNIT_STATE)
def give_to_nobody(infusion: str, position: int) -> ResponseReturnValue:
    """It is not here any more, and nobody signed for it."""
    match issuing_syringes.give_to_nobody(site(), asking.act(), infusion, position):
        case issuing_syringes.Noted() | issuing_syringes.NothingOut():
            return redirect(url_for("infusions.page", infusion=infusion), 303)
        case refusal:
            return _refused(refusal)


def _refused(refusal: issuing_syringes.Refused) -> ResponseReturnValue:
    match refusal:
        case NotFound():
            return abort(404)
        case NotAllowed():
            return abort(403)
        case NotOnShift():
            return _says(_ELSEWHERE)
        case ReadsBlind():
            return _says(_BLIND)


def _says(words: str) -> ResponseReturnValue:
    return render_template("parts/refused.html", says=words), 409


def _form() -> IssueForm:
    form = IssueForm(request.form if request.method == "POST" else None)
    form.unit.choices = {"": "Choose"} | unit_names(site())
    return form


def _page(
    form: IssueForm, *, says: str = "", asks_another: bool = False, status: int = 200
) -> ResponseReturnValue:
    beds, name = beds_of_unit(site(), asking.actor().unit), asking.person().printed_name
    asks = asks_another or bool(form.another.data)
    made = render_template("issuing/page.html", form=form, beds=beds, name=name, says=says, asks_another=asks)
    return made, status


def _back_page(infusion: str, position: int, form: TakenForm, *, status: int = 200) -> ResponseReturnValue:
    seen = issuing_syringes.see_issue(site(), asking.act(), infusion, position)
    match seen:
        case issuing_syringes.IssueSeen():
            shown: OutShown = out_shown(seen.issued)
            made = render_template("issuing/back.html", page=seen.infusion, out=shown, form=form)
            return made, status
        case issuing_syringes.NothingOut():
            return _says(_NOTHING_OUT)
        case _:
            return _refused(seen)
