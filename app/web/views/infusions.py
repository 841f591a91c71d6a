"""What runs: one tap further than the list, all that is known of it."""

from flask import Blueprint, abort, redirect, render_template, url_for
from flask.typing import ResponseReturnValue

from app.people import Permission, may
from app.web import asking
from app.web.access import allowed
from app.web.asking import site
from app.web.models.emergencies import emergency_page
from app.web.models.infusion_told import told_page
from app.web.models.infusions import infusion_page
from app.workflow.emergencies_seen import EmergenciesSeen, see_emergencies
from app.workflow.infusion_told import WholeInfusion, see_whole_infusion
from app.workflow.observing import NotReminded, Observed, tell_observed
from app.workflow.refusals import NotAllowed, NotFound, NotOnShift

views = Blueprint("infusions", __name__)


@views.get("/infusion/<infusion>")
@allowed(Permission.CHECK, Permission.UNIT_STATE, Permission.READ_RECORDS)
def page(infusion: str) -> ResponseReturnValue:
    """The infusion, as far as whoever asks may see it."""
    match see_whole_infusion(site(), asking.act(), infusion):
        case WholeInfusion() as whole:
            return _page(whole)
        case NotFound():
            return abort(404)


@views.post("/infusion/<infusion>/observed")
@allowed(Permission.CHECK)
def observed(infusion: str) -> ResponseReturnValue:
    """The patient was observed; pressed twice it was observed twice."""
    match tell_observed(site(), asking.act(), infusion):
        case Observed() | NotReminded():
            return redirect(url_for("infusions.page", infusion=infusion), 303)
        case NotFound():
            return abort(404)
        case NotAllowed() | NotOnShift():
            return abort(403)


def _page(whole: WholeInfusion) -> ResponseReturnValue:
    act, roles = asking.act(), asking.person().roles
    happened = see_emergencies(site(), act, whole.seen.infusion)
    assert isinstance(happened, EmergenciesSeen)  # noqa: S101  # whoever sees the infusion sees these
    return render_template(
        "infusions/page.html",
        page=infusion_page(whole.seen),
        told=told_page(whole.told, act.now) if whole.told else None,
        emergencies=emergency_page(happened),
        may_check=may(roles, Permission.CHECK),
        may_tell=may(roles, Permission.CHECK) or may(roles, Permission.UNIT_STATE),
        may_change_lock=may(roles, Permission.CHANGE_LOCK),
        may_release=may(roles, Permission.RELEASE_EVIDENCE),
    )
