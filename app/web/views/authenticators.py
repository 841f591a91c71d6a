"""Enrol what is given beside the secret: the person, signed in, with the secret anew."""

from flask import Blueprint, Response, redirect, render_template, request, url_for
from flask.typing import ResponseReturnValue

from app.base import Method
from app.people import Asked, Permission, may
from app.reports.square_code import square_code
from app.web import asking
from app.web.access import signed_in, waiting
from app.web.asking import site
from app.web.forms.authenticators import EnrolForm
from app.web.passkeys import ENROL, answer_in, challenge_for, host
from app.web.views.signing_in import sign_out_here
from app.workflow import authenticators
from app.workflow.refusals import TooManyTries, WrongCredential

views = Blueprint("authenticators", __name__)


@views.get("/authenticator")
@signed_in(asked=Asked.SESSION, enrols=True)
def page() -> ResponseReturnValue:
    """What is enrolled, and ways to enrol."""
    return _page(EnrolForm())


@views.get("/passkey-challenge")
@waiting
def challenge() -> ResponseReturnValue:
    """What a passkey is to answer, for one act of whoever is here; nothing is kept of it."""
    return Response(challenge_for(request.args.get("for", "")), content_type="text/plain; charset=utf-8")


@views.post("/authenticator/enrol")
@signed_in(asked=Asked.IN_ITS_FORM, enrols=True)
def enrol() -> ResponseReturnValue:
    """Enrol the app that shows the right code, or the passkey that was made."""
    form = EnrolForm(request.form)
    answer = answer_in(form, ENROL)
    if form.validate() and not form.text("code") and answer is None:
        form.refuse("code", "Write the code.")
    if form.errors:
        return _page(form), 422
    given, secret = (site(), asking.act(), asking.person()), form.secret.data or ""
    if answer is not None:
        enrolled = authenticators.enrol_passkey(*given, secret=secret, answer=answer)
    else:
        enrolled = authenticators.enrol_app(
            *given, secret=secret, chosen=form.text("chosen"), code=form.text("code")
        )
    match enrolled:
        case authenticators.Enrolled():
            return _after_enrolling()
        case authenticators.WrongFactor(says=says, kind=kind):
            form.refuse(kind, says)
        case WrongCredential():
            form.refuse("secret", "This is not your secret. Nothing was changed.")
        case TooManyTries(seconds=seconds):
            form.refuse("secret", f"Too many tries. Wait {seconds} s, then try again.")
    return _page(form), 422


def _after_enrolling() -> ResponseReturnValue:
    """Whoever was let in for this alone shows at once that it works."""
    if asking.actor().method is Method.UNENROLLED:
        return sign_out_here()
    return redirect(url_for("authenticators.page"), 303)


def _page(form: EnrolForm) -> str:
    shown = authenticators.show_app(site(), asking.act(), asking.person(), form.text("chosen"))
    form.chosen.data, form.passkey.data = shown.chosen, ""
    return render_template(
        "authenticators/page.html",
        form=form,
        written=shown.written,
        scanned=square_code(shown.address, "For your authenticator app, to be scanned"),
        enrolled=authenticators.see_enrolled(site(), asking.actor().person),
        is_needed=asking.actor().method is Method.UNENROLLED,
        person=asking.person(),
        may_stop=may(asking.person().roles, Permission.UNIT_STATE),
        act=ENROL,
        host=host(),
    )
