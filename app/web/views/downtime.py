"""Papers for the time when the program is down: forms to be filled in, and what runs."""

from flask import Blueprint, Response, abort, render_template
from flask.typing import ResponseReturnValue

from app.people import Permission
from app.web import asking
from app.web.access import allowed
from app.web.asking import site
from app.workflow.downtime import Forms, SettingsOnPaper, downtime_forms, settings_on_paper
from app.workflow.looking import unit_names
from app.workflow.refusals import NoSuchUnit, NotAllowed, ReadsBlind

views = Blueprint("downtime", __name__)


@views.get("/downtime")
@allowed(Permission.CHECK, Permission.UNIT_STATE)
def page() -> ResponseReturnValue:
    """What to print while the program is there, and what is done when it is back."""
    here = asking.actor().unit
    return render_template("downtime/page.html", here=unit_names(site()).get(here, here))


@views.get("/downtime/forms.pdf")
@allowed(Permission.CHECK, Permission.UNIT_STATE)
def forms() -> ResponseReturnValue:
    """The forms of the unit of the shift, by the rules in force there; no patient's value is on them."""
    match downtime_forms(site(), asking.now(), asking.actor().unit):
        case Forms(pdf=pdf, unit=unit):
            return _file(pdf, f"countersign-downtime-{unit}.pdf")
        case NoSuchUnit():
            return abort(404)


CLOSED = (
    "This sheet is closed to you for now: you are one of two who read here, each alone. "
    "Somebody who reads nothing prints it. It opens once your readings agree."
)


@views.get("/downtime/settings.pdf")
@allowed(Permission.CHECK, Permission.UNIT_STATE)
def settings() -> ResponseReturnValue:
    """What is in force on the unit of the shift; a look at each infusion on it."""
    match settings_on_paper(site(), asking.act()):
        case SettingsOnPaper(pdf=pdf, unit=unit):
            return _file(pdf, f"countersign-settings-{unit}.pdf")
        case ReadsBlind():
            return render_template("parts/refused.html", says=CLOSED), 403
        case NotAllowed():
            return abort(403)


def _file(content: bytes, name: str) -> Response:
    headers = {"Content-Disposition": f'attachment; filename="{name}"'}
    return Response(content, mimetype="application/pdf", headers=headers)
