"""The list of findings: every finding of every check that has ended."""

from flask import Blueprint, abort, render_template, request
from flask.typing import ResponseReturnValue

from app.people import Permission, may
from app.records.reached import ReviewState
from app.web import asking
from app.web.access import allowed
from app.web.asking import site
from app.web.forms.checking import TextForm
from app.web.forms.findings import FilterForm, ToClassifyForm, begin_of, end_of, find_place
from app.web.models.findings_page import findings_page, waiting_page
from app.web.models.sampling import sample_choices
from app.words.reviewing import WHILE_IT_RAN
from app.workflow import classifying
from app.workflow.classifying import ToClassify
from app.workflow.findings import PastFindings, Wanted, drugs_listed, past_findings, sees_every_unit
from app.workflow.looking import unit_names
from app.workflow.refusals import NotAllowed, NotFound

views = Blueprint("findings", __name__)

_NOTHING = PastFindings(rows=(), next_after=None)


@views.get("/findings")
@allowed(Permission.UNIT_FINDINGS, Permission.ALL_FINDINGS)
def page() -> ResponseReturnValue:
    """One page of the list, the newest first."""
    names = unit_names(site())
    form = FilterForm(request.args)
    form.unit.choices = {"": "All", **names}
    form.drug.choices = {"": "All", **{each: each for each in drugs_listed(site(), asking.now())}}
    wanted = _wanted(form)
    if wanted is None:
        return _shown(form, names, _NOTHING), 422
    match past_findings(site(), asking.act(), asking.person().roles, wanted):
        case PastFindings() as found:
            return _shown(form, names, found)
        case NotAllowed():
            return abort(403)


@views.get("/findings/to-classify")
@allowed(Permission.ALL_FINDINGS)
def to_classify() -> ResponseReturnValue:
    """What waits for whoever looks to say what it was."""
    form = ToClassifyForm(request.args)
    _blank_means_all(form)
    after = find_place(request.args.get("after", ""))
    match classifying.to_classify(
        site(), asking.act(), asking.person().roles, sample=form.text("sample"), after=after
    ):
        case ToClassify() as waiting:
            form.sample.choices = {"": WHILE_IT_RAN, **sample_choices(waiting.samples)}
            return render_template(
                "findings/to_classify.html",
                page=waiting_page(waiting.found, unit_names(site())),
                form=form,
                has_samples=bool(waiting.samples),
            )
        case NotFound():
            return abort(404)
        case NotAllowed():
            return abort(403)


def _wanted(form: FilterForm) -> Wanted | None:
    zone = asking.zone()
    _blank_means_all(form)
    valid = form.validate()
    first, last = form.day("first"), form.day("last")
    if not valid or form.errors:
        return None
    chosen = form.chosen
    review = chosen.pop("review")
    return Wanted(
        **chosen,
        review=ReviewState(review) if review else None,
        from_=begin_of(first, zone),
        to=end_of(last, zone),
        after=find_place(request.args.get("after", "")),
    )


def _blank_means_all(form: TextForm) -> None:
    """A field that the address does not name is one that nothing is filtered by."""
    for each in form:
        each.data = each.data or ""


def _shown(form: FilterForm, names: dict[str, str], found: PastFindings) -> str:
    made = findings_page(found, names, asking.person().id)
    filters = {each.name: form.text(each.name) for each in form if form.text(each.name)}
    roles, here = asking.person().roles, asking.actor().unit
    return render_template(
        "findings/findings.html",
        # Whoever reads of every unit is asked of which.
        own_unit="" if sees_every_unit(asking.actor(), roles) else names.get(here, here),
        page=made,
        form=form,
        filters=filters,
        may_classify=may(roles, Permission.CLASSIFY_FINDINGS),
    )
