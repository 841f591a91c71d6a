"""What was checked on paper while the program was down: typed in by one, confirmed by another."""

from flask import Blueprint, abort, redirect, render_template, request, url_for
from flask.typing import ResponseReturnValue

from app.people import Permission
from app.reports.paper_sheet import typed_in
from app.web import asking
from app.web.access import allowed
from app.web.asking import site
from app.web.forms.stopping import stated_moment
from app.web.forms.transcribing import SheetsForm, by_source, lines_typed, rows_of, wrong_lines
from app.web.models.transcribing import paper_page, refused_words
from app.workflow import transcribing
from app.workflow.refusals import Incomplete, NotAllowed, NotFound, NotOnShift, ReadsBlind

views = Blueprint("transcribing", __name__)

SAME, DIFFERS = "same", "differs"
_MEANWHILE = "These sheets were typed in meanwhile. Look at what stands here before you type them in anew."
_NONE_WAITS = "What this page showed was answered, or typed in anew, meanwhile."
_ONE_PERSON = (
    "You typed it in, or this session did. Another nurse holds it beside the sheets, signed in as such."
)
_NOTHING = "Write what the sheets say, on at least one line."


@views.get("/infusion/<infusion>/paper")
@allowed(Permission.CHECK, Permission.UNIT_STATE, Permission.READ_RECORDS)
def page(infusion: str) -> ResponseReturnValue:
    """What was typed in, and what comes next."""
    return _page(infusion)


def _page(infusion: str, *, says: str = "") -> ResponseReturnValue:
    match transcribing.see_paper(site(), asking.act(), infusion):
        case transcribing.PaperSeen() as seen:
            shown = render_template("transcribing/page.html", page=paper_page(seen, asking.now()), says=says)
            return shown, 409 if says else 200
        case ReadsBlind() as refused:
            return render_template("parts/refused.html", says=refused_words(refused)), 403
        case NotFound():
            return abort(404)


@views.get("/infusion/<infusion>/paper/type")
@allowed(Permission.CHECK)
def type_page(infusion: str) -> ResponseReturnValue:
    """Both sheets, line by line."""
    return _type_page(infusion, SheetsForm())


@views.post("/infusion/<infusion>/paper/type")
@allowed(Permission.CHECK)
def type_now(infusion: str) -> ResponseReturnValue:
    """Type them in; another nurse confirms it."""
    form = SheetsForm(request.form)
    lines = lines_typed(typed_in(transcribing.rules_of_sheets(site(), asking.act())), request.form)
    if not form.validate() or any(wrong_lines(lines)):
        return _type_page(infusion, form, status=422)
    sheets = transcribing.Sheets(
        checked_at=stated_moment(form.text("checked_at"), asking.now(), asking.zone()),
        first=form.text("first"),
        second=form.text("second"),
        rows=rows_of(lines),
        seen=form.seen.data or 0,
    )
    match transcribing.type_in(site(), asking.act(), infusion, sheets):
        case transcribing.TypedIn():
            return redirect(url_for("transcribing.page", infusion=infusion), 303)
        case transcribing.TypedMeanwhile():
            return _page(infusion, says=_MEANWHILE)
        case Incomplete():
            return _type_page(infusion, form, says=_NOTHING, status=422)
        case refused:
            return _refused(refused)


def _type_page(infusion: str, form: SheetsForm, *, says: str = "", status: int = 200) -> ResponseReturnValue:
    match transcribing.see_paper(site(), asking.act(), infusion):
        case transcribing.PaperSeen(refused=None) as seen:
            lines = lines_typed(typed_in(seen.rules), request.form)
            if request.method == "GET":
                form.seen.data = max((each.told.position for each in seen.typed), default=0)
            shown = render_template(
                "transcribing/type.html",
                page=paper_page(seen, asking.now()),
                form=form,
                groups=by_source(lines),
                wrong=[*form.wrong(), *(wrong_lines(lines) if request.method == "POST" else ())],
                says=says,
            )
            return shown, status
        case transcribing.PaperSeen(refused=refused) if refused is not None:
            return _refused(refused)
        case ReadsBlind() as refused:
            return _refused(refused)
        case _:
            return abort(404)


@views.post("/infusion/<infusion>/paper")
@allowed(Permission.CHECK)
def hold_now(infusion: str) -> ResponseReturnValue:
    """The same as on the sheets, or not."""
    said = request.form.get("said", "")
    waits = request.form.get("transcription", 0, int)
    if said not in {SAME, DIFFERS}:
        return abort(404)
    match transcribing.hold_beside(site(), asking.act(), infusion, transcription=waits, same=said == SAME):
        case transcribing.Held():
            return redirect(url_for("transcribing.page", infusion=infusion), 303)
        case transcribing.NoneWaits():
            return _page(infusion, says=_NONE_WAITS)
        case transcribing.OnePerson():
            return _page(infusion, says=_ONE_PERSON)
        case refused:
            return _refused(refused)


def _refused(refused: transcribing.CannotType) -> ResponseReturnValue:
    match refused:
        case NotFound():
            return abort(404)
        case NotAllowed():
            return abort(403)
        case ReadsBlind():
            return render_template("parts/refused.html", says=refused_words(refused)), 403
        case transcribing.NotUnchecked() | NotOnShift():
            return render_template("parts/refused.html", says=refused_words(refused)), 409
