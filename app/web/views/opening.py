"""Open a check at a bed, show its code, find it by code, join it."""

from flask import Blueprint, abort, redirect, render_template, request, url_for
from flask.typing import ResponseReturnValue

from app.people import Permission
from app.records.kinds import KINDS
from app.records.restarting import HeldBack
from app.reports.square_code import square_code
from app.web import asking
from app.web.access import allowed
from app.web.acts import get_progress, to_check
from app.web.asking import site
from app.web.forms.opening import LONGEST_CODE, CodeForm, PlaceForm
from app.web.models.changing import bar_words
from app.web.models.opening import Joining, grouped, joining, where
from app.words.emergencies import held_back_words
from app.words.screens import no_such_bed
from app.workflow import opening
from app.workflow.beds import beds_of_unit
from app.workflow.looking import Seen, find_place_of_infusion, see_progress, unit_names
from app.workflow.refusals import NoSuchBed, NoSuchUnit, NotAllowed, NotFound, NotNow, NotOnShift
from app.workflow.training_cards import NoSuchCards

views = Blueprint("opening", __name__)

BEGIN, IN_PLACE = "read", "in-place"
_NOT_AGAIN = (
    "You took a request for help in this check or in the infusion's last one. "
    "The third person can be neither of the two: a colleague must take your place."
)
_YOU_ANSWER = (
    "You answer for this infusion already, so you cannot take it over. "
    "End this handoff and open it yourself: whoever opens it hands over."
)
_YOU_RECEIVE = (
    "You took this patient, so you join this check. The nurse who brought the patient opens it, "
    "or a colleague of your unit where that nurse has left."
)
_ELSEWHERE = "Your shift is on another unit. Sign out, and sign in again for this one."


@views.get("/open")
@allowed(Permission.CHECK)
def open_page() -> ResponseReturnValue:
    """Ask for unit and bed, and nothing else."""
    return _open_page(_place_form(), says="", open_check="")


@views.post("/open")
@allowed(Permission.CHECK)
def open_now() -> ResponseReturnValue:
    """Open a check, and begin to read or show its code: that is not kept, and so is in this answer only."""
    form = _place_form()
    if not form.validate():
        return _open_page(form, says="", open_check=""), 422
    place = {name: form.text(name) for name in ("unit", "bed", "cards")}
    match opening.open_check(site(), asking.act(), **place):
        case opening.Opened(check=check) if request.form.get("go") == BEGIN:
            return to_check(check)
        case opening.Opened(check=check, code=code):
            return _code_page(_joining(check), code)
        case opening.AlreadyOpen(check=check):
            return _open_page(form, says="A check is open at this bed already.", open_check=check), 409
        case opening.NoLibrary() | opening.ThirdPersonElsewhere() | opening.NotSeen() | HeldBack() as refusal:
            return _open_page(form, says=_says(refusal), open_check=""), 409
        case NoSuchUnit() | NoSuchBed() | NotOnShift() | NoSuchCards() as refusal:
            form.refuse(*_said_of_the_place(refusal))
        case NotAllowed():
            return abort(403)
    return _open_page(form, says="", open_check=""), 422


def _said_of_the_place(refusal: NoSuchUnit | NoSuchBed | NotOnShift | NoSuchCards) -> tuple[str, str]:
    """The field at fault, and how to put it right."""
    match refusal:
        case NoSuchUnit():
            return "unit", "Choose the unit."
        case NoSuchBed(beds=beds):
            return "bed", no_such_bed(beds)
        case NotOnShift():
            return "unit", _ELSEWHERE
        case NoSuchCards():
            return "cards", "No such set waits for its check. Take another, or leave this blank."


@views.post("/infusion/<infusion>/open/<kind>")
@allowed(Permission.CHECK)
def open_on_infusion(infusion: str, kind: str) -> ResponseReturnValue:
    """Open a check of what runs or has run, straight from its line in the list."""
    if kind not in KINDS:
        abort(404)
    in_place = request.form.get("go") == IN_PLACE
    match opening.open_on_infusion(site(), asking.act(), KINDS[kind], infusion, in_place=in_place):
        case opening.Opened(check=check, code=code):
            begins = request.form.get("go") == BEGIN
            return to_check(check) if begins else _code_page(_joining(check), code)
        case opening.AlreadyOpen(check=check):
            return to_check(check)
        case opening.AnotherAnswers(name=name):
            return _hand_over_page(infusion, kind, name), 409
        case (
            opening.Receives()
            | opening.Barred()
            | HeldBack()
            | opening.NoLibrary()
            | opening.ThirdPersonElsewhere()
            | opening.NotSeen()
            | NotOnShift()
        ) as refusal:
            return _open_page(_place_form(), says=_says(refusal), open_check=""), 409
        case NotFound():
            return abort(404)
        case NotAllowed():
            return abort(403)


def _hand_over_page(infusion: str, kind: str, name: str) -> str:
    """Who hands over, and that another may in her place."""
    place = find_place_of_infusion(site(), asking.act(), infusion)
    return render_template(
        "opening/in_place.html",
        infusion=infusion,
        kind=kind,
        name=name,
        takes_over=KINDS[kind].responsible is not None,
        where=where(place),
    )


@views.get("/check/<check>/code")
@allowed(Permission.CHECK)
def code_page(check: str) -> ResponseReturnValue:
    """What brings the second in, for whoever opened the check."""
    page = _joining(check)
    if not page.mine:
        abort(404)
    if page.full:
        return to_check(check)
    return _code_page(page, "")


@views.post("/check/<check>/code")
@allowed(Permission.CHECK)
def new_code(check: str) -> ResponseReturnValue:
    """Make a fresh code and show it once."""
    match opening.new_code(site(), asking.act(), check):
        case opening.NewCode(code=code, seen=seen):
            return _code_page(joining(seen), code)
        case opening.Full():
            return to_check(check)
        case NotFound():
            return abort(404)


@views.get("/join")
@allowed(Permission.CHECK)
def join_by_code_page() -> ResponseReturnValue:
    """Ask for the code; a scanned one is there already, and finding the check is still a press of its own."""
    form = CodeForm()
    form.code.data = request.args.get("code", "")[:LONGEST_CODE]
    return render_template("opening/by_code.html", form=form)


@views.post("/join")
@allowed(Permission.CHECK)
def find_by_code() -> ResponseReturnValue:
    """Find the check; joining it is the next page's."""
    form = CodeForm(request.form)
    if not form.validate():
        return render_template("opening/by_code.html", form=form), 422
    match opening.check_by_code(site(), asking.act(), form.text("code")):
        case str() as check:
            return _to_join(check, form)
        case opening.CodeNotKnown():
            form.refuse("code", "This code is wrong, used or too old. Read it again, or ask for a new one.")
    return render_template("opening/by_code.html", form=form), 422


def _to_join(check: str, form: CodeForm) -> ResponseReturnValue:
    if isinstance(see_progress(site(), asking.act(), check), Seen):
        return redirect(url_for("opening.join_page", check=check), 303)
    form.refuse("code", "This check is on another unit. Sign out, and sign in again for that unit.")
    return render_template("opening/by_code.html", form=form), 422


@views.get("/check/<check>/join")
@allowed(Permission.CHECK)
def join_page(check: str) -> ResponseReturnValue:
    """Say which check it is before joining it."""
    page = _joining(check)
    if page.mine:
        return to_check(check)
    return render_template("opening/join.html", page=page, says="")


@views.post("/check/<check>/join")
@allowed(Permission.CHECK)
def join_now(check: str) -> ResponseReturnValue:
    """Join as the second."""
    match opening.join_check(site(), asking.act(), check):
        case opening.Joined() | opening.AlreadyJoined():
            return to_check(check)
        case (
            opening.Full()
            | opening.AnswersAlready()
            | opening.ThirdPersonElsewhere()
            | opening.NotSeen()
            | NotNow()
            | NotOnShift()
        ) as refusal:
            return render_template("opening/join.html", page=_joining(check), says=_says(refusal)), 409
        case NotAllowed():
            return abort(403)
        case NotFound():
            return abort(404)


def _says(
    refusal: opening.Full
    | opening.AnswersAlready
    | opening.Receives
    | opening.NotOfTheTwo
    | opening.Barred
    | opening.NoLibrary
    | HeldBack
    | NotNow
    | NotOnShift,
) -> str:
    match refusal:
        case (
            opening.AnswersAlready() | opening.Receives() | opening.NotSeen() | opening.ThirdPersonElsewhere()
        ):
            return _says_of_person(refusal)
        case opening.Full():
            return "Two people have joined this check. A third cannot."
        case opening.Barred() | HeldBack():
            return _says_of_infusion(refusal)
        case opening.NoLibrary():
            return "No drug library is in force, so no dose can be judged. Call a pharmacist."
        case NotNow():
            return "This check can no longer be joined."
        case NotOnShift():
            return _ELSEWHERE


def _says_of_infusion(refusal: opening.Barred | HeldBack) -> str:
    match refusal:
        case opening.Barred(bar=bar, led_to=led_to):
            return bar_words(bar, led_to)
        case HeldBack():
            return held_back_words(refusal)


def _says_of_person(refusal: opening.AnswersAlready | opening.Receives | opening.NotOfTheTwo) -> str:
    match refusal:
        case opening.AnswersAlready():
            return _YOU_ANSWER
        case opening.Receives():
            return _YOU_RECEIVE
        case opening.ThirdPersonElsewhere():
            return _NOT_AGAIN
        case opening.NotSeen():
            return (
                "No colleague has seen you since your login was made or reset. One confirms your key first."
            )


def _place_form() -> PlaceForm:
    form = PlaceForm(request.form if request.method == "POST" else None)
    form.unit.choices = {"": "Choose"} | unit_names(site())
    if request.method == "GET":
        # The unit of the shift is no reading: it is carried over.
        form.unit.data = asking.actor().unit
    return form


def _open_page(form: PlaceForm, *, says: str, open_check: str) -> str:
    beds = beds_of_unit(site(), asking.actor().unit)
    return render_template("opening/open.html", form=form, beds=beds, says=says, open_check=open_check)


def _joining(check: str) -> Joining:
    return joining(get_progress(check))


def _code_page(page: Joining, code: str) -> str:
    scanned = ""
    if code:
        address = url_for("opening.join_by_code_page", code=code, _external=True)
        scanned = square_code(address, "The code, to be scanned with another screen")
    return render_template("opening/code.html", page=page, code=grouped(code), scanned=scanned)
