"""Write down the drug that is taken back: one of the two reads how much, and a witness reads it blind."""

from flask import Blueprint, abort, redirect, render_template, request, url_for
from flask.typing import ResponseReturnValue

from app.people import Asked, Permission
from app.records.ending_events import DrugRead
from app.records.visibility import Sight
from app.web import asking
from app.web.access import allowed
from app.web.acts import get_own, to_check
from app.web.asking import site
from app.web.forms.checking import TextForm
from app.web.forms.stopping import stated_moment
from app.web.forms.taking_back import TakeBackForm, WitnessForm, only_what_is_asked, only_what_was_asked
from app.web.models.taking_back import take_back_page
from app.web.witnesses import APART, NOTHING_WAITS, refuse_witness
from app.words.emergencies import KEPT_AS_EVIDENCE
from app.workflow import taking_back, witnessing
from app.workflow.looking import Seen
from app.workflow.refusals import KeptAsEvidence, NotFound, NotNow, NotYours

views = Blueprint("taking_back", __name__)

_MEANWHILE = "This was written down since the page was shown. Look at what stands before you write it anew."


@views.get("/check/<check>/taken-back")
@allowed(Permission.CHECK)
def page(check: str) -> ResponseReturnValue:
    """What is asked for next, of whom, and what stands."""
    return _page(check)


@views.post("/check/<check>/taken-back")
@allowed(Permission.CHECK)
def read(check: str) -> ResponseReturnValue:
    """Keep what one of the two read; it is shown to nobody until a witness has read it too."""
    form = TakeBackForm(request.form)
    only_what_was_asked(form, request.form)
    if not form.validate():
        return _page(check, first=form, status=422)
    given = taking_back.GivenBack(
        way=form.text("way"),
        volumes=form.volumes,
        lot=form.text("lot"),
        stated_at=stated_moment(form.text("stated_at"), asking.now(), asking.zone()),
        last=form.last.data or 0,
        syringe=form.text("syringe"),
    )
    match taking_back.take_back(site(), asking.act(), check, given):
        case taking_back.FirstKept():
            return redirect(url_for("taking_back.page", check=check), 303)
        case witnessing.Unwritable(faults=faults):
            form.refuse_all(faults)
            return _page(check, first=form, status=422)
        case taking_back.WrittenMeanwhile():
            return _page(check, first=form, says=_MEANWHILE, status=409)
        case KeptAsEvidence():
            return _page(check, first=form, says=KEPT_AS_EVIDENCE, status=409)
        case NotNow():
            return to_check(check)
        case NotFound() | NotYours():
            return abort(404)


@views.post("/check/<check>/taken-back/witness")
@allowed(Permission.CHECK, asked=Asked.IN_ITS_FORM)
def witness(check: str) -> ResponseReturnValue:
    """Keep it, once the witness has read it too and given id and secret."""
    form = WitnessForm(request.form)
    only_what_was_asked(form, request.form)
    if not form.validate():
        return _page(check, second=form, status=422)
    said = taking_back.witness(
        site(),
        asking.act(),
        check,
        form.volumes,
        login=form.text("login"),
        secret=form.secret.data or "",
    )
    match said:
        case taking_back.Written():
            return _written(check, said)
        case witnessing.ReadApart():
            return _page(check, says=APART, status=409)
        case taking_back.NothingWaits() | taking_back.WrittenMeanwhile():
            return _page(check, says=NOTHING_WAITS, status=409)
        case KeptAsEvidence():
            return _page(check, says=KEPT_AS_EVIDENCE, status=409)
        case NotNow():
            return to_check(check)
        case NotFound() | NotYours():
            return abort(404)
        case _:
            return _page(check, second=refuse_witness(form, said), status=422)


@views.post("/check/<check>/taken-back/alone")
@allowed(Permission.CHECK)
def go_on_without(check: str) -> ResponseReturnValue:
    """No witness could be had: that is what stands."""
    match taking_back.go_on_without(site(), asking.act(), check):
        case taking_back.Written() as said:
            return _written(check, said)
        case taking_back.NothingWaits() | taking_back.WrittenMeanwhile():
            return _page(check, says=NOTHING_WAITS, status=409)
        case KeptAsEvidence():
            return _page(check, says=KEPT_AS_EVIDENCE, status=409)
        case NotNow():
            return to_check(check)
        case NotFound() | NotYours():
            return abort(404)


def _written(check: str, said: taking_back.Written) -> ResponseReturnValue:
    if said.more:
        return redirect(url_for("taking_back.page", check=check), 303)
    return redirect(url_for("stepping.page", check=check), 303) if said.to_be_verified else to_check(check)


def _seen(check: str) -> Seen:
    """The check, for one of its two, where a syringe was replaced or may have been, or the last one ends."""
    seen = get_own(check)
    if not taking_back.is_or_may_be_replaced(seen.loaded.state):
        abort(404)
    return seen


def _new_form(seen: Seen) -> TakeBackForm:
    """Blank; but after two volumes that did not agree, its author finds again what else was written."""
    apart = seen.loaded.read_apart
    event = apart.event if apart is not None and apart.by == asking.actor().person else None
    kept = vars(event) if isinstance(event, DrugRead) else {}
    return TakeBackForm(data={name: kept[name] for name in ("lot", "way", "syringe") if name in kept})


def _page(
    check: str,
    *,
    first: TakeBackForm | None = None,
    second: WitnessForm | None = None,
    says: str = "",
    status: int = 200,
) -> ResponseReturnValue:
    """One page for both: it asks the witness once one of the two has read, unless that is read anew."""
    seen = _seen(check)
    state = seen.loaded.state
    if seen.sight is not Sight.EVERYTHING or not taking_back.may_write(state):
        return to_check(check)
    waiting = seen.loaded.first_read
    kept = taking_back.see_kept(site(), seen.loaded)
    if seen.loaded.infusion.emergencies.evidence is not None and not kept:
        # Said before anybody reads what may not go.
        says = says or KEPT_AS_EVIDENCE
    shown = take_back_page(seen, waiting, kept=kept)
    is_anew = first is not None or "anew" in request.args
    if waiting is not None and not is_anew:
        form: TextForm = second or WitnessForm()
        template = "taking_back/witness.html"
    else:
        blank = first or _new_form(seen)
        blank.offer(taking_back.see_in_hand(site(), seen.loaded))
        form, template = blank, "taking_back/page.html"
    if request.method == "GET" or (first is None and second is None):
        only_what_is_asked(form, state.kind.portions)
    return render_template(template, page=shown, form=form, says=says), status
