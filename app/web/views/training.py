"""What came of a check on training cards, once it has ended; elsewhere there is no such page."""

from flask import Blueprint, abort, render_template
from flask.typing import ResponseReturnValue

from app.people import Permission
from app.web import asking
from app.web.access import allowed
from app.web.asking import site
from app.web.models.training import outcome_page
from app.workflow.refusals import NotFound
from app.workflow.training_outcome import Told, see_outcome

views = Blueprint("training", __name__)


@views.get("/check/<check>/training")
@allowed(Permission.CHECK, Permission.UNIT_FINDINGS, Permission.ALL_FINDINGS)
def page(check: str) -> ResponseReturnValue:
    """What was wrong, what each caught, what the comparison found, and how fast."""
    match see_outcome(site(), asking.act(), asking.person().roles, check):
        case Told() as told:
            return render_template("training/page.html", page=outcome_page(told))
        case NotFound():
            return abort(404)
