"""Sign in, sign out, set a first secret."""

from datetime import timedelta

from flask import Blueprint, make_response, redirect, render_template, request, url_for
from flask.typing import ResponseReturnValue
from werkzeug.wrappers import Response

from app.base import Act, Method
from app.keys import SecretFault
from app.people import Asked
from app.web import asking, noting
from app.web.access import public, signed_in
from app.web.asking import parts, site
from app.web.coming_back import THEN, address_after, leads_somewhere
from app.web.cookies import drop_cookie, keep_cookie
from app.web.forms.signing_in import FirstSecretForm, SignInForm
from app.web.models.locked import locked_here
from app.web.passkeys import SIGN_IN, given_with, host
from app.workflow import signing_in
from app.workflow.asked_first import has_something_first
from app.workflow.authenticators import WrongFactor, see_asked
from app.workflow.looking import unit_names
from app.workflow.refusals import TooManyTries, WrongCredential
from app.workflow.sessions import SignedIn

views = Blueprint("signing_in", __name__)

_KEPT = timedelta(days=365)
_WRONG = "Id and secret do not belong together. Nothing was changed."


@views.get("/sign-in")
@public
def sign_in_page() -> ResponseReturnValue:
    """The sign-in form."""
    form = _sign_in_form()
    form.then.data = request.args.get(THEN, "")
    # A device mostly stays where it is; whoever signs in sees the unit and can choose another.
    known = request.cookies.get(parts().settings.unit_cookie)
    form.unit.data = known if known in {value for value, *_ in form.unit.iter_choices()} else ""
    return _sign_in_page(form)


@views.post("/sign-in")
@public
def sign_in_now() -> ResponseReturnValue:
    """Begin a session at this screen."""
    form = _sign_in_form()
    if not form.validate():
        return _asked_again(form)
    outcome = signing_in.sign_in(
        site(),
        asking.now(),
        login=form.text("login"),
        secret=form.secret.data or "",
        device=asking.device(),
        unit=form.unit.data,
        pin=form.pin.data or "",
        # A device holds one session: whoever signs in ends that of whoever was signed in here.
        before=asking.find_actor(),
        given=given_with(form, SIGN_IN),
    )
    match outcome:
        case SignedIn() as signed:
            to = redirect(_first_page(signed, form.text(THEN)), 303)
            return _with_cookies(to, signed.token, form.unit.data)
        case SecretFault(says=says):
            form.refuse("pin", says)
            return _asked_again(form)
        case WrongFactor(says=says, kind=kind):
            noting.sign_in_failed()
            form.refuse(kind, says)
            return _asked_again(form)
        case WrongCredential() | TooManyTries() | signing_in.NoSuchUnit() as refusal:
            noting.sign_in_failed()
            return _sign_in_page(form, _says(refusal)), 422


def _asked_again(form: SignInForm) -> ResponseReturnValue:
    if form.secret.data and not form.secret.errors:
        form.refuse("secret", "Write your secret once more: it is never kept.")
    return _sign_in_page(form), 422


def _sign_in_page(form: SignInForm, says: str = "") -> str:
    then = form.text(THEN)
    goes_on = leads_somewhere(then)
    return render_template(
        "signing_in/sign_in.html",
        form=form,
        says=says,
        goes_on=goes_on,
        locked=locked_here(then),
        act=SIGN_IN,
        host=host(),
        beside=see_asked(site(), asking.now()),
    )


def _first_page(signed: SignedIn, asked: str) -> str:
    """Where one goes on: whoever is to know, to be seen or to do something first learns that before."""
    if signed.actor.method is Method.UNENROLLED:
        return url_for("authenticators.page")
    act = Act(now=asking.now(), by=signed.actor, new_id=parts().new_id)
    if has_something_first(site(), act):
        return url_for("keys.page")
    return address_after(site(), asked, act, signed.person) or url_for("lists.my_checks")


def _says(refusal: WrongCredential | TooManyTries | signing_in.NoSuchUnit) -> str:
    match refusal:
        case WrongCredential():
            return _WRONG
        case TooManyTries(seconds=seconds):
            return f"Too many tries. Wait {seconds} s, then try again."
        case signing_in.NoSuchUnit():
            return "Choose the unit of this shift."


@views.get("/here")
@signed_in(asked=Asked.PIN)
def here() -> ResponseReturnValue:
    """Somebody is writing at a page that has not been sent yet; the session was seen, and that is all."""
    return "", 204


@views.get("/handed-over")
@public
def handed_over_page() -> ResponseReturnValue:
    """What a shared screen shows between two people: whose digits open it, and nothing of what they did."""
    then = request.args.get(THEN, "")
    return render_template("signing_in/handed_over.html", then=then, locked=locked_here(then))


@views.post("/sign-out")
@signed_in(asked=Asked.PIN, enrols=True)
def sign_out_now() -> ResponseReturnValue:
    """End the session here and at the server."""
    return sign_out_here()


def sign_out_here() -> Response:
    """The same, after a page that had something to keep."""
    signing_in.sign_out(site(), asking.now(), asking.actor())
    return without_session(redirect(url_for("signing_in.sign_in_page"), 303))


@views.get("/first-secret")
@public
def first_secret_page() -> ResponseReturnValue:
    """Where a one-time code is replaced by a secret."""
    return render_template("signing_in/first_secret.html", form=FirstSecretForm(), says="")


@views.post("/first-secret")
@public
def first_secret_now() -> ResponseReturnValue:
    """Replace the one-time code."""
    form = FirstSecretForm(request.form)
    if not form.validate():
        return render_template("signing_in/first_secret.html", form=form, says=""), 422
    if form.secret.data != form.again.data:
        form.refuse("again", "The two secrets are not the same.")
        return render_template("signing_in/first_secret.html", form=form, says=""), 422
    match signing_in.replace_code(
        site(),
        asking.now(),
        login=form.text("login"),
        code=form.one_time_code(),
        secret=form.secret.data or "",
        device=asking.device(),
    ):
        case signing_in.SecretSet():
            return redirect(url_for("signing_in.sign_in_page"), 303)
        case signing_in.CodeWrong():
            return render_template(
                "signing_in/first_secret.html", form=form, says="The code is wrong, used or too old."
            ), 422
        case SecretFault(says=says):
            form.refuse("secret", says)
    return render_template("signing_in/first_secret.html", form=form, says=""), 422


def _sign_in_form() -> SignInForm:
    form = SignInForm(request.form if request.method == "POST" else None)
    form.unit.choices = {"": "Choose"} | unit_names(site())
    return form


def _with_cookies(response: Response, token: str, unit: str) -> Response:
    settings = parts().settings
    keep_cookie(response, settings.session_cookie, token)
    keep_cookie(response, settings.unit_cookie, unit, kept=_KEPT)
    return response


def without_session(response: ResponseReturnValue) -> Response:
    """The response, telling the browser to forget the session and everything it kept of this site."""
    made = make_response(response)
    drop_cookie(made, parts().settings.session_cookie)
    made.headers["Clear-Site-Data"] = '"cache", "storage"'
    return made
