"""One check after its readings: what may be seen of it, and what is next."""

from dataclasses import dataclass, field

from flask import Blueprint, redirect, render_template, request, url_for
from flask.typing import ResponseReturnValue

from app.people import Permission
from app.records.state import BLIND
from app.records.visibility import Sight
from app.web import asking
from app.web.access import allowed, waiting
from app.web.acts import get_seen
from app.web.asking import parts, site
from app.web.forms.confirming import AcknowledgeForm
from app.web.forms.settling import ExceptionForm, PutRightForm, SettleForm
from app.web.models.check import chosen_slot
from app.web.models.comparison import answering, comparison_page, fields_page, progress_page
from app.web.models.helping import outcome_choices
from app.workflow.looking import Seen
from app.workflow.orders_seen import messages_of
from app.workflow.waiting import still_shows

views = Blueprint("comparison", __name__)


@dataclass(frozen=True, kw_only=True)
class Forms:
    """The forms of the page, empty unless one of them came back with a fault."""

    put_right: PutRightForm = field(default_factory=PutRightForm)
    acknowledge: AcknowledgeForm = field(default_factory=AcknowledgeForm)
    settle: SettleForm = field(default_factory=SettleForm)
    exception: ExceptionForm = field(default_factory=ExceptionForm)


@views.get("/check/<check>")
@allowed(Permission.CHECK, Permission.UNIT_STATE, Permission.READ_RECORDS)
def page(check: str) -> ResponseReturnValue:
    """The check, as far as whoever asks may see it."""
    return show(get_seen(check))


@views.get("/check/<check>/since/<int:position>")
@waiting
def since(check: str, position: int) -> ResponseReturnValue:
    """For a page that waits: nothing while it shows what is, else one word, whatever the reason."""
    if still_shows(
        site(),
        asking.now(),
        token=asking.token(),
        device=asking.device(),
        idle=parts().settings.idle,
        check=check,
        position=position,
    ):
        return "", 204
    return "Reload.", {"Content-Type": "text/plain; charset=utf-8"}


def show(seen: Seen, forms: Forms | None = None, *, says: str = "", status: int = 200) -> ResponseReturnValue:
    """Progress alone, the list of fields to read again, or everything."""
    match seen.sight:
        case Sight.NOTHING | Sight.PROGRESS:
            return _progress(seen, forms or Forms(), says, status)
        case Sight.FIELDS:
            return render_template("comparison/fields.html", page=fields_page(seen), says=says), status
        case Sight.EVERYTHING:
            return _everything(seen, forms or Forms(), says), status


def _progress(seen: Seen, forms: Forms, says: str, status: int) -> ResponseReturnValue:
    state = seen.loaded.state
    if seen.slot is not None and state.phase in BLIND:
        return redirect(url_for("reading.review", check=state.check.id), 303)
    page = progress_page(seen, asking.person(), asking.actor())
    return render_template("comparison/progress.html", page=page, forms=forms, says=says), status


def _everything(seen: Seen, forms: Forms, says: str) -> str:
    page = comparison_page(seen, asking.person())
    asked = answering(seen, page, chosen_slot(seen, request.values.get("by", ""), together=True))
    if asked is not None:
        forms.acknowledge.reason.choices = asked.reasons
    forms.settle.outcome.choices = outcome_choices(seen)
    forms.exception.finding.choices = {each.key: each.says for each in page.stops if each.key in page.rules}
    messages = messages_of(seen, asking.person().roles)
    return render_template(
        "comparison/page.html",
        page=page,
        asked=asked,
        forms=forms,
        says=says,
        messages=messages,
        has_ended=seen.loaded.state.has_ended,
    )
