"""The beds of each unit: an administrator adds and retires them, a charge nurse those of the own unit."""

from collections.abc import Mapping

from flask import Blueprint, abort, redirect, render_template, request, url_for
from flask.typing import ResponseReturnValue

from app.people import Permission, may
from app.web import asking
from app.web.access import allowed
from app.web.asking import site
from app.web.forms.beds import BedForm
from app.words.screens import in_short, no_such_bed
from app.workflow import beds
from app.workflow.looking import unit_names
from app.workflow.refusals import NoSuchBed, NoSuchUnit

views = Blueprint("beds", __name__)


@views.get("/beds")
@allowed(Permission.BEDS)
def page() -> ResponseReturnValue:
    """Each unit, and its beds."""
    return _page()


@views.post("/beds")
@allowed(Permission.BEDS)
def add_now() -> ResponseReturnValue:
    """Add a bed."""
    form = BedForm(request.form)
    if not form.validate():
        return _page(form, status=422)
    unit = _own(form)
    match beds.add_bed(site(), asking.now(), by=asking.actor().person, unit=unit, bed=form.text("bed")):
        case beds.BedKept():
            return redirect(url_for("beds.page"), 303)
        case beds.NotABed():
            form.refuse("bed", "Write the bed's number or name.")
        case NoSuchUnit():
            return abort(404)
    return _page(form, status=422)


@views.post("/beds/retire")
@allowed(Permission.BEDS)
def retire_now() -> ResponseReturnValue:
    """Retire a bed; what happened at it stands."""
    form = BedForm(request.form)
    unit = _own(form)
    match beds.retire_bed(site(), asking.now(), by=asking.actor().person, unit=unit, bed=form.text("bed")):
        case beds.BedGone():
            return redirect(url_for("beds.page"), 303)
        case beds.BedInUse(bed=bed):
            form.refuse("bed", f"Bed {bed} is in use: something runs there, waits, or is being checked.")
        case NoSuchBed(beds=known):
            form.refuse("bed", no_such_bed(known))
        case NoSuchUnit():
            return abort(404)
    return _page(form, status=422)


def _units() -> Mapping[str, str]:
    """The units whose beds this person may change."""
    names, here = unit_names(site()), asking.actor().unit
    everywhere = may(asking.person().roles, Permission.ACCOUNTS)
    return {unit: name for unit, name in names.items() if everywhere or unit == here}


def _own(form: BedForm) -> str:
    unit = form.text("unit")
    if unit not in _units():
        abort(404)
    return unit


def _page(form: BedForm | None = None, *, status: int = 200) -> ResponseReturnValue:
    of_units = beds.beds_of_units(site())
    units = [(unit, name, of_units[unit], in_short(of_units[unit])) for unit, name in _units().items()]
    wrong = form.text("unit") if form else ""
    return render_template("beds/page.html", units=units, form=form or BedForm(), wrong=wrong), status
