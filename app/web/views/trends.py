"""What the checks of many months say: each trend as a picture, a sentence and a table."""

from flask import Blueprint, abort, render_template, request
from flask.typing import ResponseReturnValue

from app.people import Permission
from app.web import asking
from app.web.access import allowed
from app.web.asking import site
from app.web.forms.trends import USUAL, TrendForm
from app.web.models.trends import no_trend, trend_page
from app.workflow.findings import sees_every_unit
from app.workflow.looking import unit_names
from app.workflow.refusals import NotAllowed
from app.workflow.trends import About, Trend, TrendAsked, find_trend

views = Blueprint("trends", __name__)


@views.get("/trends")
@views.get("/trends/<about>")
@allowed(Permission.UNIT_FINDINGS, Permission.ALL_FINDINGS)
def page(about: str = About.FINDINGS.value) -> ResponseReturnValue:
    """One trend, and the way to the others."""
    if about not in set(About):
        return abort(404)
    names = unit_names(site())
    roles = asking.person().roles
    form = TrendForm(request.args)
    sees_all = sees_every_unit(asking.actor(), roles)
    form.unit.choices = {"": "All", **names} if sees_all else {"": names[asking.actor().unit]}
    form.unit.data = form.unit.data or ""
    form.months.data = form.months.data or USUAL
    if not form.validate():
        return _shown(form, no_trend(About(about))), 422
    asked = TrendAsked(
        about=About(about),
        months=int(form.text("months")),
        unit=form.text("unit"),
        device=form.text("device") if about == About.ACCOUNTS else "",
    )
    match find_trend(site(), asking.act(), roles, asked=asked, zone=asking.zone()):
        case Trend() as found:
            return _shown(form, trend_page(found, names))
        case NotAllowed():
            return abort(403)


def _shown(form: TrendForm, made: object) -> str:
    filters = {name: form.text(name) for name in ("months", "unit")}
    return render_template("trends/trend.html", page=made, form=form, filters=filters)
