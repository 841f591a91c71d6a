"""Write down the drug that was taken back after a wrong syringe, with a witness."""

from flask import Blueprint, abort, redirect, render_template, request, url_for
from flask.typing import ResponseReturnValue

from app.people import Asked, Permission
from app.records.life import Action, may_be_done
from app.records.visibility import Sight
from app.web import asking
from app.web.access import allowed
from app.web.acts import get_own, to_check
from app.web.asking import site
from app.web.forms.stopping import stated_moment
from app.web.forms.taking_back import TakeBackForm
from app.web.models.taking_back import take_back_page
from app.workflow import taking_back
from app.workflow.looking import Seen
from app.workflow.refusals import NotFound, NotNow, NotYours, TooManyTries, WrongCredential

views = Blueprint("taking_back", __name__)

_MEANWHILE = "This was written down since the page was shown. Look at what stands before you write it anew."
_SAME = "Whoever writes it is no witness of it. Another licensed person looks, and gives id and secret."
_NO_WITNESS = "The rules of this hospital do not let this person witness it. Nothing was written."
_WRONG = "Id and secret do not belong together. Nothing was written."


Refused = (
    taking_back.Unwritable | taking_back.SamePerson | taking_back.NoWitness | WrongCredential | TooManyTries
)


@views.get("/check/<check>/taken-back")
@allowed(Permission.CHECK)
def page(check: str) -> ResponseReturnValue:
    """What is asked for, and what stands."""
    return _page(check, TakeBackForm())


@views.post("/check/<check>/taken-back")
@allowed(Permission.CHECK, asked=Asked.IN_ITS_FORM)
def write(check: str) -> ResponseReturnValue:
    """Keep it, once the witness has given id and secret."""
    form = TakeBackForm(request.form)
    if not form.validate():
        return _page(check, form, status=422)
    given = taking_back.GivenBack(
        way=form.text("way"),
        in_syringe=f"{form.text('in_syringe')} mL",
        in_line=f"{form.text('in_line')} mL",
        lot=form.text("lot"),
        stated_at=stated_moment(form.text("stated_at"), asking.now(), asking.zone()),
        last=form.last.data or 0,
    )
    said = taking_back.take_back(
        site(), asking.act(), check, given, login=form.text("login"), secret=form.secret.data or ""
    )
    match said:
        case taking_back.Written(to_be_verified=True):
            return redirect(url_for("stepping.page", check=check), 303)
        case taking_back.Written():
            return to_check(check)
        case taking_back.WrittenMeanwhile():
            return _page(check, form, says=_MEANWHILE, status=409)
        case NotNow():
            return to_check(check)
        case NotFound() | NotYours():
            return abort(404)
        case _:
            return _page(check, _refused(form, said), status=422)


def _refused(form: TakeBackForm, refusal: Refused) -> TakeBackForm:
    """Say beside its field what is wrong; what was written stays, the secret does not."""
    match refusal:
        case taking_back.Unwritable(faults=faults):
            form.refuse_all(faults)
        case taking_back.SamePerson():
            form.refuse("login", _SAME)
        case taking_back.NoWitness():
            form.refuse("login", _NO_WITNESS)
        case WrongCredential():
            form.refuse("secret", _WRONG)
        case TooManyTries(seconds=seconds):
            form.refuse("secret", f"Too many tries with this id. Wait {seconds} s, then try again.")
    return form


def _seen(check: str) -> Seen:
    """The check, for one of its two, where a syringe was replaced or may have been."""
    seen = get_own(check)
    if not taking_back.is_or_may_be_replaced(seen.loaded.state):
        abort(404)
    return seen


def _page(check: str, form: TakeBackForm, *, says: str = "", status: int = 200) -> ResponseReturnValue:
    seen = _seen(check)
    state = seen.loaded.state
    if seen.sight is not Sight.EVERYTHING or not (
        may_be_done(Action.TAKE_BACK, state) and taking_back.may_write(state)
    ):
        return to_check(check)
    shown = take_back_page(seen)
    return render_template("taking_back/page.html", page=shown, form=form, says=says), status
