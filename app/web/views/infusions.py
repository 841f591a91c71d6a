"""What runs: one tap further than the list, all that is known of it."""

from flask import Blueprint, abort, render_template
from flask.typing import ResponseReturnValue

from app.people import Permission, may
from app.web import asking
from app.web.access import allowed
from app.web.asking import site
from app.web.models.infusion_told import told_page
from app.web.models.infusions import infusion_page
from app.workflow.infusion_told import WholeInfusion, see_whole_infusion
from app.workflow.refusals import NotFound

views = Blueprint("infusions", __name__)


@views.get("/infusion/<infusion>")
@allowed(Permission.CHECK, Permission.UNIT_STATE, Permission.READ_RECORDS)
def page(infusion: str) -> ResponseReturnValue:
    """The infusion, as far as whoever asks may see it."""
    act = asking.act()
    match see_whole_infusion(site(), act, infusion):
        case WholeInfusion() as whole:
            return render_template(
                "infusions/page.html",
                page=infusion_page(whole.seen),
                told=told_page(whole.told, act.now) if whole.told else None,
                may_check=may(asking.person().roles, Permission.CHECK),
            )
        case NotFound():
            return abort(404)
