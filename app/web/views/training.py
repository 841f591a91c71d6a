"""What came of a check on training cards, once it has ended; elsewhere there is no such page."""

from flask import Blueprint, Response, abort, render_template
from flask.typing import ResponseReturnValue

from app.people import Permission
from app.web import asking
from app.web.access import allowed
from app.web.asking import site
from app.web.models.training import outcome_page, own_page
from app.workflow.refusals import NotFound
from app.workflow.training_outcome import Told, see_outcome
from app.workflow.training_record import OwnTraining, competency_pdf, own_training

views = Blueprint("training", __name__)


@views.get("/check/<check>/training")
@allowed(Permission.UNIT_STATE, Permission.ALL_FINDINGS)
def page(check: str) -> ResponseReturnValue:
    """What was wrong, what each caught, what the comparison found, and how fast."""
    match see_outcome(site(), asking.act(), asking.person().roles, check):
        case Told() as told:
            return render_template("training/page.html", page=outcome_page(told))
        case NotFound():
            return abort(404)


@views.get("/training")
@allowed(Permission.UNIT_STATE)
def own() -> ResponseReturnValue:
    """One's own checks on cards."""
    match own_training(site(), asking.act()):
        case OwnTraining() as found:
            return render_template("training/own.html", page=own_page(found))
        case NotFound():
            return abort(404)


@views.get("/training/record.pdf")
@allowed(Permission.UNIT_STATE)
def record() -> ResponseReturnValue:
    """The same on paper."""
    match competency_pdf(site(), asking.act()):
        case bytes() as content:
            headers = {"Content-Disposition": 'attachment; filename="countersign-training.pdf"'}
            return Response(content, mimetype="application/pdf", headers=headers)
        case NotFound():
            return abort(404)
