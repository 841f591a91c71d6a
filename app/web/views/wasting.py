"""Write down drug that goes outside of any check: one person reads how much, and a witness reads it blind."""

from flask import Blueprint, abort, redirect, render_template, request, url_for
from flask.typing import ResponseReturnValue

from app.people import Asked, Permission
from app.records.taken_back import IN_SYRINGE
from app.web import asking
from app.web.access import allowed
from app.web.asking import site
from app.web.forms.stopping import stated_moment
from app.web.forms.taking_back import WasteForm, WitnessForm, only_what_is_asked
from app.web.models.wasting import waste_page
from app.web.witnesses import APART, NOTHING_WAITS, refuse_witness
from app.words.emergencies import KEPT_AS_EVIDENCE
from app.workflow import taking_back, wasting, witnessing
from app.workflow.refusals import KeptAsEvidence, NotAllowed, NotFound, NotOnShift, ReadsBlind

views = Blueprint("wasting", __name__)

_MEANWHILE = "Something was written down since the page was shown. Look at it before you write more."
_CLOSED = "Both have signed the end of this infusion: nothing of it is in hand."
_BLIND = "You read here, each alone. Write it down once your readings agree; a colleague may do it now."
_ELSEWHERE = "Your shift is on another unit. Sign out, and sign in again for this one."


@views.get("/infusion/<infusion>/waste")
@allowed(Permission.CHECK)
def page(infusion: str) -> ResponseReturnValue:
    """What is asked for next, of whom."""
    return _page(infusion)


@views.post("/infusion/<infusion>/waste")
@allowed(Permission.CHECK)
def read(infusion: str) -> ResponseReturnValue:
    """Keep what one person read; it is shown to nobody until a witness has read it too."""
    form = WasteForm(request.form)
    if not form.validate():
        return _page(infusion, first=form, status=422)
    gone = wasting.Gone(
        what=form.text("what"),
        volume=f"{form.text('in_syringe')} mL",
        lot=form.text("lot"),
        syringe=form.text("syringe"),
        stated_at=stated_moment(form.text("stated_at"), asking.now(), asking.zone()),
        last=form.last.data or 0,
    )
    said = wasting.read_waste(site(), asking.act(), infusion, gone)
    match said:
        case taking_back.FirstKept():
            return redirect(url_for("wasting.page", infusion=infusion), 303)
        case witnessing.Unwritable(faults=faults):
            form.refuse_all(faults)
            return _page(infusion, first=form, status=422)
        case taking_back.WrittenMeanwhile():
            return _page(infusion, first=form, says=_MEANWHILE, status=409)
        case KeptAsEvidence():
            return _page(infusion, first=form, says=KEPT_AS_EVIDENCE, status=409)
        case _:
            return _refused(said)


@views.post("/infusion/<infusion>/waste/witness")
@allowed(Permission.CHECK, asked=Asked.IN_ITS_FORM)
def witness(infusion: str) -> ResponseReturnValue:
    """Keep it, once the witness has read it too and given id and secret."""
    form = WitnessForm(request.form)
    only_what_is_asked(form, (IN_SYRINGE,))
    if not form.validate():
        return _page(infusion, second=form, status=422)
    said = wasting.witness_waste(
        site(),
        asking.act(),
        infusion,
        form.volumes[IN_SYRINGE],
        login=form.text("login"),
        secret=form.secret.data or "",
    )
    match said:
        case wasting.WrittenDown():
            return redirect(url_for("infusions.page", infusion=infusion), 303)
        case witnessing.ReadApart():
            return _page(infusion, says=APART, status=409)
        case taking_back.NothingWaits():
            return _page(infusion, says=NOTHING_WAITS, status=409)
        case (
            NotFound()
            | NotAllowed()
            | NotOnShift()
            | ReadsBlind()
            | wasting.AccountClosed()
            | KeptAsEvidence()
        ):
            return _refused(said)
        case _:
            return _page(infusion, second=refuse_witness(form, said), status=422)


@views.post("/infusion/<infusion>/waste/alone")
@allowed(Permission.CHECK)
def go_on_without(infusion: str) -> ResponseReturnValue:
    """No witness could be had: that is what stands."""
    said = wasting.go_on_without(site(), asking.act(), infusion)
    match said:
        case wasting.WrittenDown():
            return redirect(url_for("infusions.page", infusion=infusion), 303)
        case taking_back.NothingWaits():
            return _page(infusion, says=NOTHING_WAITS, status=409)
        case _:
            return _refused(said)


def _refused(refusal: wasting.Refused) -> ResponseReturnValue:
    match refusal:
        case NotFound():
            return abort(404)
        case NotAllowed():
            return abort(403)
        case NotOnShift():
            return _says(_ELSEWHERE)
        case ReadsBlind():
            return _says(_BLIND)
        case wasting.AccountClosed():
            return _says(_CLOSED)
        case KeptAsEvidence():
            return _says(KEPT_AS_EVIDENCE)


def _says(words: str) -> ResponseReturnValue:
    return render_template("parts/refused.html", says=words), 409


def _page(
    infusion: str,
    *,
    first: WasteForm | None = None,
    second: WitnessForm | None = None,
    says: str = "",
    status: int = 200,
) -> ResponseReturnValue:
    """One page for both: it asks the witness once somebody has read, unless that is read anew."""
    seen = wasting.see_waste(site(), asking.act(), infusion)
    if not isinstance(seen, wasting.WasteSeen):
        return _refused(seen)
    shown = waste_page(seen)
    is_anew = first is not None or "anew" in request.args
    if shown.waiting is not None and not is_anew:
        form = second or WitnessForm()
        if second is None:
            only_what_is_asked(form, (IN_SYRINGE,))
        if not shown.waiting.is_rest:
            form.in_syringe.label.text = "How much is gone, as you see it"
        return render_template("wasting/witness.html", page=shown, form=form, says=says), status
    blank = first or WasteForm(data=shown.before)
    blank.offer(seen.in_hand)
    return render_template("wasting/page.html", page=shown, form=blank, says=says), status
