"""The list of findings: every finding of every ended check, and what is open now."""

from flask import Blueprint, abort, render_template, request
from flask.typing import ResponseReturnValue

from app.people import Permission
from app.web import asking
from app.web.access import allowed
from app.web.asking import site
from app.web.forms.findings import FilterForm, begin_of, end_of, find_place
from app.web.models.findings_page import findings_page
from app.workflow.findings import PastFindings, Wanted, past_findings
from app.workflow.listing import open_checks
from app.workflow.looking import unit_names
from app.workflow.refusals import NotAllowed

views = Blueprint("findings", __name__)

_NOTHING = PastFindings(rows=(), next_after=None)


@views.get("/findings")
@allowed(Permission.UNIT_FINDINGS, Permission.ALL_FINDINGS)
def page() -> ResponseReturnValue:
    """One page of the log, newest first, by time, finding and severity."""
    names = unit_names(site())
    form = FilterForm(request.args)
    form.unit.choices = {"": "All", **names}
    wanted = _wanted(form)
    if wanted is None:
        return _shown(form, names, _NOTHING), 422
    match past_findings(site(), asking.act(), asking.person().roles, wanted):
        case PastFindings() as found:
            return _shown(form, names, found)
        case NotAllowed():
            return abort(403)


def _wanted(form: FilterForm) -> Wanted | None:
    zone = asking.zone()
    _blank_means_all(form)
    valid = form.validate()
    first, last = form.day("first"), form.day("last")
    if not valid or form.errors:
        return None
    return Wanted(
        unit=form.text("unit"),
        code=form.text("code"),
        severity=form.text("severity"),
        from_=begin_of(first, zone),
        to=end_of(last, zone),
        after=find_place(request.args.get("after", "")),
    )


def _blank_means_all(form: FilterForm) -> None:
    """A field that the address does not name is one that nothing is filtered by."""
    for each in (form.severity, form.code, form.unit):
        each.data = each.data or ""


def _shown(form: FilterForm, names: dict[str, str], found: PastFindings) -> str:
    made = findings_page(found, open_checks(site(), asking.act()), names)
    filters = {name: form.text(name) for name in ("first", "last", "severity", "code", "unit")}
    return render_template("findings/findings.html", page=made, form=form, filters=filters)
