"""What each unit is called, for the administrator."""

from flask import Blueprint, abort, redirect, render_template, request, url_for
from flask.typing import ResponseReturnValue

from app.people import Permission
from app.web import asking
from app.web.access import allowed
from app.web.asking import site
from app.web.forms.units import UnitForm
from app.words.screens import NAME_TAKEN, NOT_A_UNIT_NAME
from app.workflow import units
from app.workflow.looking import unit_names
from app.workflow.refusals import NoSuchUnit
from app.workflow.rules_seen import units_otherwise

views = Blueprint("units", __name__)


@views.get("/units")
@allowed(Permission.ACCOUNTS)
def page() -> ResponseReturnValue:
    """Each unit by its name."""
    return _page(UnitForm())


@views.post("/units")
@allowed(Permission.ACCOUNTS)
def rename_now() -> ResponseReturnValue:
    """Call a unit otherwise; every record keeps the name of its moment."""
    form = UnitForm(request.form)
    if form.text("unit") not in unit_names(site()):
        abort(404)
    if not form.validate():
        return _page(form), 422
    match units.rename_unit(
        site(), asking.now(), by=asking.actor().person, unit=form.text("unit"), name=form.text("name")
    ):
        case units.UnitRenamed():
            return redirect(url_for("units.page"), 303)
        case units.NotAName():
            form.refuse("name", NOT_A_UNIT_NAME)
        case units.NameTaken():
            form.refuse("name", NAME_TAKEN)
        case NoSuchUnit():
            return abort(404)
    return _page(form), 422


def _page(form: UnitForm) -> str:
    wrong = form.text("unit") if form.errors else ""
    otherwise = units_otherwise(site(), asking.now())
    return render_template(
        "units/page.html", units=unit_names(site()), form=form, wrong=wrong, otherwise=otherwise
    )
