"""What runs: one tap further than the list, what is in force."""

from flask import Blueprint, abort, render_template
from flask.typing import ResponseReturnValue

from app.people import Permission, may
from app.web import asking
from app.web.access import allowed
from app.web.asking import site
from app.web.models.infusions import infusion_page
from app.workflow.infusions import InfusionSeen, see_infusion
from app.workflow.refusals import NotFound

views = Blueprint("infusions", __name__)


@views.get("/infusion/<infusion>")
@allowed(Permission.CHECK, Permission.UNIT_STATE, Permission.READ_RECORDS)
def page(infusion: str) -> ResponseReturnValue:
    """The infusion, as far as whoever asks may see it."""
    match see_infusion(site(), asking.act(), infusion):
        case InfusionSeen() as seen:
            may_check = may(asking.person().roles, Permission.CHECK)
            return render_template("infusions/page.html", page=infusion_page(seen), may_check=may_check)
        case NotFound():
            return abort(404)
