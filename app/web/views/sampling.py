"""Random samples of ended checks: draw one, print its worksheet, enter what an audit found."""

from flask import Blueprint, Response, abort, redirect, render_template, request, url_for
from flask.typing import ResponseReturnValue

from app.people import Permission
from app.web import asking
from app.web.access import allowed
from app.web.asking import site
from app.web.forms.sampling import AuditForm, DrawForm
from app.web.models.sampling import audited_page, sample_page, sample_rows
from app.workflow.auditing_samples import (
    Answered,
    AnsweredMeanwhile,
    OwnCheck,
    SampleSeen,
    answer_check,
    audit_sheet,
    samples_of,
    see_sample,
)
from app.workflow.refusals import Incomplete, NotAllowed, NotFound, ReadsBlind
from app.workflow.sampling import Kept, NothingEnded, NotOver, Plan, WrongSpan, draw_sample

views = Blueprint("sampling", __name__)

_CLOSED = (
    "Not while you read blind: answers are people's words about earlier checks. "
    "It opens once your readings agree."
)


@views.get("/samples")
@allowed(Permission.SAMPLE)
def page() -> ResponseReturnValue:
    """What is drawn, and what was."""
    return _list(DrawForm())


@views.post("/samples")
@allowed(Permission.SAMPLE)
def draw() -> ResponseReturnValue:
    """Draw one; the log tells of it."""
    form = DrawForm(request.form)
    valid = form.validate()
    plan = _plan(form)
    if not valid or plan is None:
        return _list(form), 422
    match draw_sample(site(), asking.act(), asking.person().roles, plan):
        case Kept(sample=sample):
            return redirect(url_for("sampling.one", sample=sample), 303)
        case WrongSpan():
            form.refuse("last", "The last day lies before the first.")
        case NotOver():
            form.refuse("last", "This day is not over: checks may still end on it.")
        case NothingEnded():
            form.refuse("last", "No check ended on those days.")
        case NotAllowed():
            return abort(403)
    return _list(form), 422


@views.get("/samples/<sample>")
@allowed(Permission.SAMPLE)
def one(sample: str) -> ResponseReturnValue:
    """Which checks, what was found of each, and the rate."""
    seen = see_sample(site(), asking.act(), asking.person().roles, sample)
    if not isinstance(seen, SampleSeen):
        return _refused(seen)
    unit = request.args.get("unit", "")
    if unit and unit not in {each.unit for each in seen.units}:
        return abort(404)
    return render_template("sampling/sample.html", page=sample_page(seen, unit))


@views.get("/samples/<sample>/worksheet.pdf")
@allowed(Permission.SAMPLE)
def worksheet(sample: str) -> ResponseReturnValue:
    """The worksheet."""
    unit = request.args.get("unit", "")
    made = audit_sheet(site(), asking.act(), asking.person().roles, sample, unit=unit)
    if not isinstance(made, bytes):
        return _refused(made)
    headers = {"Content-Disposition": 'attachment; filename="countersign-audit-worksheet.pdf"'}
    return Response(made, mimetype="application/pdf", headers=headers)


@views.get("/samples/<sample>/<check>")
@allowed(Permission.SAMPLE)
def audited(sample: str, check: str) -> ResponseReturnValue:
    """One check of it: what was answered, and the form."""
    return _audited(sample, check, AuditForm())


@views.post("/samples/<sample>/<check>")
@allowed(Permission.SAMPLE)
def answer(sample: str, check: str) -> ResponseReturnValue:
    """Say what was found; a correction is one more answer."""
    form = AuditForm(request.form)
    if not form.validate():
        return _audited(sample, check, form, status=422)
    said = answer_check(
        site(),
        asking.act(),
        asking.person().roles,
        sample,
        check,
        answer=form.text("answer"),
        reasons=tuple(form.reasons.data or ()),
        text=form.text("text_said"),
        known=form.number_known,
    )
    match said:
        case Answered():
            return redirect(url_for("sampling.one", sample=sample), 303)
        case Incomplete():
            form.refuse("reasons", "Say why: choose one at least.")
            return _audited(sample, check, form, status=422)
        case AnsweredMeanwhile():
            form.refuse(
                "answer", "Somebody answered while you wrote: look at it, and send again if yours counts."
            )
            return _audited(sample, check, form, status=409)
        case OwnCheck():
            form.refuse("answer", "You had a part in this check: somebody else audits it.")
            return _audited(sample, check, form, status=409)
        case NotFound() | NotAllowed() | ReadsBlind():
            return _refused(said)


def _plan(form: DrawForm) -> Plan | None:
    first, last, each = form.day("first"), form.day("last"), form.count()
    if first is None or last is None or each is None:
        return None
    return Plan(seed=form.text("seed"), first=first, last=last, each=each)


def _refused(said: NotFound | NotAllowed | ReadsBlind) -> ResponseReturnValue:
    match said:
        case ReadsBlind():
            return render_template("parts/refused.html", says=_CLOSED), 403
        case NotFound():
            return abort(404)
        case NotAllowed():
            return abort(403)


def _list(form: DrawForm) -> str:
    listed = samples_of(site(), asking.person().roles)
    if isinstance(listed, NotAllowed):
        abort(403)
    return render_template("sampling/samples.html", form=form, samples=sample_rows(listed))


def _audited(sample: str, check: str, form: AuditForm, *, status: int = 200) -> ResponseReturnValue:
    seen = see_sample(site(), asking.act(), asking.person().roles, sample)
    if not isinstance(seen, SampleSeen):
        return _refused(seen)
    row = seen.find_row(check)
    if row is None:
        return abort(404)
    page = audited_page(seen, row)
    # How many answers whoever writes has before them.
    form.known.data = str(len(page.answers))
    return render_template("sampling/audited.html", page=page, form=form), status
