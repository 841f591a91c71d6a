"""My checks, and what the unit has open."""

from flask import Blueprint, render_template
from flask.typing import ResponseReturnValue

from app.people import Asked
from app.web import asking
from app.web.access import signed_in
from app.web.asking import site
from app.web.models.lists import checks_page, place
from app.web.models.stands import stands_above
from app.web.models.transferring import transfer_shown
from app.workflow.closing_accounts import open_accounts
from app.workflow.listing import unit_list
from app.workflow.looking import unit_names
from app.workflow.placing_stops import stops_nowhere
from app.workflow.rules_seen import waiting_for

views = Blueprint("lists", __name__)


@views.get("/")
@signed_in(asked=Asked.PIN)
def my_checks() -> ResponseReturnValue:
    """The own checks, those of the unit, and what runs without one."""
    names = unit_names(site())
    listed = unit_list(site(), asking.act())
    page = checks_page(listed, asking.person(), asking.actor().unit, names)
    nowhere = stops_nowhere(site(), asking.act(), asking.person().roles)
    accounts = open_accounts(site(), asking.act(), asking.person().roles)
    told = [
        (each, place(names.get(each.unit, each.unit), each.bed), stands_above(each.left))
        for each in listed.told
    ]
    return render_template(
        "lists/my_checks.html",
        page=page,
        nowhere=nowhere,
        proposals=waiting_for(site(), asking.person()),
        told=told,
        accounts=accounts,
        away=[transfer_shown(each) for each in listed.away],
        out=[(each, place(names.get(each.unit, each.unit), each.bed)) for each in listed.out],
    )
