"""Signing keys: one's own, a colleague's to confirm face to face, and a new secret."""

from datetime import datetime

from flask import Blueprint, abort, redirect, render_template, request, url_for
from flask.typing import ResponseReturnValue

from app.base.days import read_moment
from app.keys import SecretFault
from app.people import Asked
from app.records.key_statements import MEANING
from app.web import asking
from app.web.access import signed_in
from app.web.asking import site
from app.web.forms.keys import ChangeSecretForm, ConfirmKeyForm
from app.workflow import key_ceremony, signing_in
from app.workflow.asked_first import Accepted, OtherStatement, SignInAnew, accept_statement
from app.workflow.changing_secret import change_secret
from app.workflow.key_looking import (
    WaitingKey,
    read_resets,
    see_own_key,
    see_resets,
    see_waiting_key,
    see_waiting_keys,
)
from app.workflow.refusals import KeyDoesNotOpen, KeyNotConfirmed, NotFound, TooManyTries, WrongCredential
from app.workflow.refused_signings import read_refused, see_refused
from app.workflow.training import see_trainings

views = Blueprint("keys", __name__)

_SAYS = {
    WrongCredential: ("secret", "Id and secret do not belong together. Nothing was confirmed."),
    key_ceremony.NotASecondPerson: (
        "login",
        "Neither the key's own person nor whoever gave the code can confirm it. Ask another colleague.",
    ),
    key_ceremony.TooAlike: (
        "login",
        "Both have one name or one staff number. Ask a colleague of another name to confirm.",
    ),
    key_ceremony.OneSignIn: (
        "login",
        "Whoever confirms is signed in: sign in yourself, on another screen, or anew on this one.",
    ),
    KeyNotConfirmed: ("login", "This colleague's own key is not confirmed yet. Ask another colleague."),
    KeyDoesNotOpen: (
        "login",
        "This colleague's key does not open: something stored was changed. Tell the administrator now.",
    ),
}
_CLOSED = "The secret is right and does not open your key: something stored was changed. Ask for a reset."


@views.get("/keys")
@signed_in(asked=Asked.PIN)
def page() -> ResponseReturnValue:
    """One's own key, who gave codes for the account, and colleagues whose keys wait."""
    person = asking.actor().person
    own = see_own_key(site(), asking.now(), person)
    return render_template(
        "keys/page.html",
        own=own,
        unready=asking.unready(),
        trainings=see_trainings(site(), person),
        waiting=see_waiting_keys(site(), person),
        resets=see_resets(site(), asking.act()),
        refused=see_refused(site(), asking.act()),
    )


@views.post("/keys/resets-read")
@signed_in(asked=Asked.PIN)
def resets_read() -> ResponseReturnValue:
    """Whoever was told of resets has read of those on the page."""
    read_resets(site(), asking.act(), until=_until())
    return redirect(url_for("lists.my_checks"), 303)


@views.post("/keys/refused-read")
@signed_in(asked=Asked.PIN)
def refused_read() -> ResponseReturnValue:
    """Whoever was told of refused signings has read of those on the page."""
    read_refused(site(), asking.act(), until=_until())
    return redirect(url_for("lists.my_checks"), 303)


def _until() -> datetime:
    """The moment up to which the page told."""
    until = read_moment(request.form.get("until", ""))
    return until if until is not None else abort(422)


@views.get("/keys/statement")
@signed_in(asked=Asked.PIN)
def statement_page() -> ResponseReturnValue:
    """The statement of accountability in force, to be read and, where it is still asked, accepted."""
    return _statement_page()


@views.post("/keys/statement")
@signed_in(asked=Asked.SESSION)
def accept_now() -> ResponseReturnValue:
    """Accept the statement, where one has just signed in."""
    match accept_statement(site(), asking.act(), digest=request.form.get("digest", "")):
        case Accepted():
            return redirect(url_for("keys.page" if asking.unready() else "lists.my_checks"), 303)
        case OtherStatement():
            return _statement_page(
                "The statement has changed. Read it again before you accept it.", status=409
            )
        case SignInAnew():
            says = "It is accepted with the secret just given. Sign out, sign in again, and accept it then."
            return _statement_page(says, status=422)


def _statement_page(says: str = "", *, status: int = 200) -> ResponseReturnValue:
    policy = asking.policy()
    if policy is None or policy.accountability is None:
        return abort(404)
    unready = asking.unready()
    is_asked = unready is not None and unready.statement is not None
    return render_template(
        "keys/statement.html", statement=policy.accountability, is_asked=is_asked, says=says
    ), status


@views.get("/keys/<kid>/confirm")
@signed_in(asked=Asked.PIN)
def confirm_page(kid: str) -> ResponseReturnValue:
    """Whose key it is, and what confirming says."""
    return _confirm_page(_waiting(kid), ConfirmKeyForm())


@views.post("/keys/<kid>/confirm")
@signed_in(asked=Asked.IN_ITS_FORM)
def confirm_now(kid: str) -> ResponseReturnValue:
    """Confirm a colleague's key, with the confirming colleague's id and secret."""
    form = ConfirmKeyForm(request.form)
    if not form.validate():
        return _confirm_page(_waiting(kid), form, status=422)
    match key_ceremony.confirm_key(
        site(), asking.act(), kid=kid, login=form.text("login"), secret=form.secret.data or ""
    ):
        case key_ceremony.KeyConfirmed() | key_ceremony.AlreadyConfirmed():
            return redirect(url_for("keys.page"), 303)
        case NotFound():
            return abort(404)
        case TooManyTries(seconds=seconds):
            form.refuse("secret", f"Too many tries with this id. Wait {seconds} s, then try again.")
        case (
            WrongCredential()
            | KeyNotConfirmed()
            | KeyDoesNotOpen()
            | key_ceremony.NotASecondPerson()
            | key_ceremony.TooAlike()
            | key_ceremony.OneSignIn()
        ) as refusal:
            form.refuse(*_SAYS[type(refusal)])
    return _confirm_page(_waiting(kid), form, status=422)


@views.get("/keys/secret")
@signed_in(asked=Asked.PIN)
def secret_page() -> ResponseReturnValue:
    """Where one's own secret is changed."""
    return render_template("keys/secret.html", form=ChangeSecretForm())


@views.post("/keys/secret")
@signed_in(asked=Asked.IN_ITS_FORM)
def change_now() -> ResponseReturnValue:
    """Put a new secret in the place of the old one; the key stays."""
    form = ChangeSecretForm(request.form)
    if form.validate() and form.new.data != form.again.data:
        form.refuse("again", "The two secrets are not the same.")
    if form.errors:
        return render_template("keys/secret.html", form=form), 422
    match change_secret(
        site(),
        asking.act(),
        login=asking.person().login,
        secret=form.secret.data or "",
        new=form.new.data or "",
    ):
        case signing_in.SecretSet():
            return redirect(url_for("keys.page"), 303)
        case SecretFault(says=says):
            form.refuse("new", says)
        case KeyDoesNotOpen():
            form.refuse("secret", _CLOSED)
        case WrongCredential():
            form.refuse("secret", "This is not your secret. Nothing was changed.")
        case TooManyTries(seconds=seconds):
            form.refuse("secret", f"Too many tries. Wait {seconds} s, then try again.")
    return render_template("keys/secret.html", form=form), 422


def _waiting(kid: str) -> WaitingKey:
    match see_waiting_key(site(), kid):
        case WaitingKey() as waiting:
            return waiting
        case NotFound():
            return abort(404)


def _confirm_page(waiting: WaitingKey, form: ConfirmKeyForm, *, status: int = 200) -> ResponseReturnValue:
    return render_template("keys/confirm.html", key=waiting, form=form, meaning=MEANING), status
