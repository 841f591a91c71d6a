"""After a comparison: read again, answer a caution, ask for help, help, set a rule aside, end the check."""

from flask import Blueprint, abort, redirect, render_template, request, url_for
from flask.typing import ResponseReturnValue

from app.people import Permission
from app.web import asking
from app.web.access import allowed
from app.web.acts import find_part, get_own, get_seen, say_not_confirmed, to_check
from app.web.asking import site
from app.web.forms.confirming import CHOOSE_REASON, AcknowledgeForm
from app.web.forms.settling import AbandonForm, ExceptionForm, HelpForm, PutRightForm, SettleForm
from app.web.models.check import CheckPage, head_of
from app.web.views.comparison import Forms, show
from app.workflow import helping, recounting, settling
from app.workflow.confirming import NotConfirmed
from app.workflow.refusals import Incomplete, NotAllowed, NotFound, NotNow, NotYours

views = Blueprint("settling", __name__)

_SAY_WHAT = "Say what was put right: it is read again as a whole."
_GONE = "This was answered or changed in the meantime: the page shows what stands now."
_IN_WORDS = "Write what was found and done: no word of the list says it."
_NOT_OPEN = "This request is not open any more: it was settled, or the check has ended."
_TAKEN_OVER = "Somebody else has taken this request over: nothing of what you sent counts."
_PRESCRIBER = "A charge nurse names the prescriber who was asked."


@views.post("/check/<check>/read-again")
@allowed(Permission.CHECK)
def read_again(check: str) -> ResponseReturnValue:
    """Open the next reading, of what differs or of each source that was put right."""
    form = PutRightForm(request.form)
    if not form.validate():
        return show(get_seen(check), Forms(put_right=form), status=422)
    match settling.read_again(
        site(), asking.act(), check, touched=request.form.getlist("touched"), why=form.text("why")
    ):
        case settling.NextReading():
            return redirect(url_for("reading.review", check=check), 303)
        case settling.HelpNeeded() | NotNow():
            return to_check(check)
        case Incomplete():
            form.refuse("touched", _SAY_WHAT)
            return show(get_seen(check), Forms(put_right=form), status=422)
        case NotFound() | NotYours():
            return abort(404)


@views.post("/check/<check>/recount")
@allowed(Permission.CHECK)
def recount(check: str) -> ResponseReturnValue:
    """Open the one reading in which both count together what does not add up."""
    match recounting.recount(site(), asking.act(), check):
        case recounting.Recounting():
            return redirect(url_for("reading.review", check=check), 303)
        case NotNow():
            return to_check(check)
        case NotFound() | NotYours():
            return abort(404)


@views.post("/check/<check>/lead-on")
@allowed(Permission.CHECK)
def lead_on(check: str) -> ResponseReturnValue:
    """End a check whose findings another kind of check puts right."""
    match settling.lead_on(site(), asking.act(), check):
        case settling.Done() | NotNow():
            return to_check(check)
        case NotFound() | NotYours():
            return abort(404)


@views.post("/check/<check>/acknowledge")
@allowed(Permission.CHECK)
def acknowledge(check: str) -> ResponseReturnValue:
    """One nurse's answer to one caution, on either one's screen."""
    form = AcknowledgeForm(request.form)
    part = find_part(form) if form.validate() else None
    if part is None:
        return _asked_again(check, form)
    match settling.acknowledge(
        site(),
        asking.act(),
        check,
        findings=form.finding.data or (),
        reasons=form.reason.data or (),
        named=form.text("named"),
        text=form.text("more"),
        part=part,
    ):
        case settling.Acknowledged() | NotNow():
            return to_check(check)
        case settling.NoSuchFinding():
            return show(get_seen(check), says=_GONE, status=409)
        case Incomplete(fields=fields):
            form.refuse(fields[0], "Name who was asked." if fields == ("named",) else CHOOSE_REASON)
            return _asked_again(check, form)
        case NotConfirmed() as refusal:
            say_not_confirmed(form, refusal)
            return _asked_again(check, form)
        case NotFound() | NotYours():
            return abort(404)


def _asked_again(check: str, form: AcknowledgeForm) -> ResponseReturnValue:
    return show(get_seen(check), Forms(acknowledge=form), status=422)


@views.get("/check/<check>/help")
@allowed(Permission.CHECK)
def help_page(check: str) -> ResponseReturnValue:
    """Why help is wanted."""
    return _help_page(check, HelpForm())


@views.post("/check/<check>/help")
@allowed(Permission.CHECK)
def ask_for_help(check: str) -> ResponseReturnValue:
    """Ask a third person to look."""
    form = HelpForm(request.form)
    if not form.validate():
        return _help_page(check, form), 422
    match settling.ask_for_help(site(), asking.act(), check, why=form.text("why"), text=form.text("more")):
        case settling.Done() | NotNow():
            return to_check(check)
        case NotFound() | NotYours():
            return abort(404)


def _help_page(check: str, form: HelpForm) -> str:
    return render_template("settling/help.html", page=CheckPage(head=head_of(get_own(check))), form=form)


@views.post("/check/<check>/help/take")
@allowed(Permission.TAKE_ESCALATION)
def take_help(check: str) -> ResponseReturnValue:
    """Take a request for help, as a third person."""
    over = request.form.get("over", "")
    match helping.take_help(site(), asking.act(), asking.person().roles, check, over=over):
        case settling.Done():
            return to_check(check)
        case NotNow():
            return show(get_seen(check), says=_NOT_OPEN, status=409)
        case helping.TakenAlready():
            return show(get_seen(check), says="Somebody else has taken this request.", status=409)
        case helping.OneOfTheTwo():
            return show(
                get_seen(check), says="Whoever helps is a third person, never one of the two.", status=409
            )
        case NotAllowed():
            return abort(403)
        case NotFound():
            return abort(404)


@views.post("/check/<check>/help/settle")
@allowed(Permission.TAKE_ESCALATION)
def settle_help(check: str) -> ResponseReturnValue:
    """Say what follows."""
    form = SettleForm(request.form)
    if not form.validate():
        return show(get_seen(check), Forms(settle=form), status=422)
    match helping.settle_help(
        site(), asking.act(), check, outcome=form.text("outcome"), text=form.text("more")
    ):
        case settling.Done():
            return redirect(url_for("ward_now.page"), 303)
        case NotNow():
            return to_check(check)
        case Incomplete() | helping.DoesNotFit() as refusal:
            _say_not_settled(form, refusal)
            return show(get_seen(check), Forms(settle=form), status=422)
        case helping.TakenOver():
            return show(get_seen(check), Forms(settle=form), says=_TAKEN_OVER, status=409)
        case NotAllowed():
            return abort(403)
        case NotFound():
            return abort(404)


def _say_not_settled(form: SettleForm, refusal: Incomplete | helping.DoesNotFit) -> None:
    match refusal:
        case Incomplete(fields=fields):
            form.refuse(fields[0], _IN_WORDS if fields == ("more",) else "Choose how it was settled.")
        case helping.DoesNotFit():
            form.refuse("outcome", "This does not fit the check as it stands: choose another.")


@views.post("/check/<check>/exception")
@allowed(Permission.GRANT_EXCEPTION)
def grant_exception(check: str) -> ResponseReturnValue:
    """Set one rule aside, for this infusion, this value, this once."""
    form = ExceptionForm(request.form)
    if not form.validate():
        return show(get_seen(check), Forms(exception=form), status=422)
    match helping.grant_exception(
        site(),
        asking.act(),
        asking.person().roles,
        check,
        finding=form.text("finding"),
        reason=form.text("reason"),
        prescriber=form.text("prescriber"),
    ):
        case settling.Done() | NotNow():
            return to_check(check)
        case settling.NoSuchFinding():
            return show(
                get_seen(check), says="This cannot be set aside: it is put right or read again.", status=409
            )
        case helping.TakenOver():
            return show(get_seen(check), Forms(exception=form), says=_TAKEN_OVER, status=409)
        case Incomplete(fields=fields):
            form.refuse(fields[0], _PRESCRIBER if fields[0] == "prescriber" else "Write the reason.")
            return show(get_seen(check), Forms(exception=form), status=422)
        case NotAllowed():
            return abort(403)
        case NotFound():
            return abort(404)


@views.get("/check/<check>/abandon")
@allowed(Permission.CHECK, Permission.END_CHECK)
def abandon_page(check: str) -> ResponseReturnValue:
    """Why the check ends."""
    return _abandon_page(check, AbandonForm.here(training=asking.is_for_training()))


@views.post("/check/<check>/abandon")
@allowed(Permission.CHECK, Permission.END_CHECK)
def abandon(check: str) -> ResponseReturnValue:
    """End the check before clearance."""
    form = AbandonForm.here(request.form, training=asking.is_for_training())
    if not form.validate():
        return _abandon_page(check, form), 422
    match settling.abandon(site(), asking.act(), check, reason=form.text("reason"), text=form.text("more")):
        case settling.Done() if asking.is_for_training():
            return redirect(url_for("training.page", check=check), 303)
        case settling.Done():
            return redirect(url_for("lists.my_checks"), 303)
        case NotNow():
            return to_check(check)
        case Incomplete():
            form.refuse("reason", "Choose the reason.")
            return _abandon_page(check, form), 422
        case NotFound() | NotYours():
            return abort(404)


def _abandon_page(check: str, form: AbandonForm) -> str:
    seen = get_seen(check)
    if not settling.may_end(seen.loaded.state, asking.actor(), asking.person().roles):
        abort(404)
    return render_template("settling/abandon.html", page=CheckPage(head=head_of(seen)), form=form)
