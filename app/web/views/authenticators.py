"""Enrol what is given beside the secret: the person, signed in, with the secret anew."""

from flask import Blueprint, redirect, render_template, request, url_for
from flask.typing import ResponseReturnValue

from app.base import Method
from app.people import Asked
from app.reports.square_code import square_code
from app.web import asking
from app.web.access import signed_in
from app.web.asking import site
from app.web.forms.authenticators import EnrolAppForm
from app.web.views.signing_in import sign_out_here
from app.workflow import authenticators
from app.workflow.refusals import TooManyTries, WrongCredential

views = Blueprint("authenticators", __name__)


@views.get("/authenticator")
@signed_in(asked=Asked.SESSION, enrols=True)
def page() -> ResponseReturnValue:
    """What is enrolled, and a way to enrol an app."""
    return _page(EnrolAppForm())


@views.post("/authenticator/app")
@signed_in(asked=Asked.IN_ITS_FORM, enrols=True)
def enrol_app() -> ResponseReturnValue:
    """Enrol the app that shows the right code."""
    form = EnrolAppForm(request.form)
    if not form.validate():
        return _page(form), 422
    match authenticators.enrol_app(
        site(),
        asking.act(),
        asking.person(),
        secret=form.secret.data or "",
        chosen=form.text("chosen"),
        code=form.text("code"),
    ):
        case authenticators.Enrolled():
            return _after_enrolling()
        case authenticators.WrongFactor(says=says):
            form.refuse("code", says)
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


def _page(form: EnrolAppForm) -> str:
    shown = authenticators.show_app(site(), asking.act(), asking.person(), form.text("chosen"))
    form.chosen.data = shown.chosen
    return render_template(
        "authenticators/page.html",
        form=form,
        written=shown.written,
        scanned=square_code(shown.address, "For your authenticator app, to be scanned"),
        enrolled=authenticators.see_enrolled(site(), asking.actor().person),
        is_needed=asking.actor().method is Method.UNENROLLED,
    )
