"""What is done in a hurry: one tap writes it down, and the page after it says what comes next."""

from collections.abc import Callable

from flask import Blueprint, abort, redirect, render_template, request, url_for
from flask.typing import ResponseReturnValue
from werkzeug.datastructures import MultiDict

from app.people import Permission, may
from app.web import asking
from app.web.access import allowed
from app.web.asking import site
from app.web.forms.emergencies import DecisionForm, Sealed, SealForm, ToldForm, read_sealed
from app.web.forms.stopping import stated_moment
from app.web.models.emergencies import EmergencyPage, emergency_page, hold_page
from app.web.models.opening import where
from app.words.emergencies import AWAY_FOR, HARMS, KEYS, OPIOIDS
from app.workflow import emergencies, holding_evidence
from app.workflow.emergencies_seen import EmergenciesSeen, see_emergencies, see_emergency
from app.workflow.looking import find_place_of_infusion, see_progress
from app.workflow.refusals import NotAllowed, NotFound, ReadsBlind

views = Blueprint("emergencies", __name__)

REVERSAL, ITCH, DEAD = "reversal", "itch", "dead"
_AWAY = "away-"
_PLAIN = {
    REVERSAL: emergencies.note_reversal,
    ITCH: emergencies.note_itch,
    DEAD: emergencies.note_dead_device,
}
_HAD_A_PART = (
    "You checked or started this infusion, or wrote down what happened or what is kept. Nothing was changed: "
    "somebody else who investigates for the site gives it free."
)
_HOLDS_IT = (
    "You hold it, as you confirmed. Nothing was changed: whoever takes it from you confirms that first, or "
    "another investigator of the site gives it free."
)
_APART = (
    "This is not the number that was written: nobody has taken it over. That is written down, and charge "
    "nurse and the site's investigator are told. Read the seal once more. If it shows what you "
    "wrote, open nothing, leave it as it is, and call them."
)
_NOT_KEPT = "Nothing of this infusion is kept as evidence now. Nothing was changed."
_NO_SEAL = "The number of its seal is not written yet. Whoever sealed it writes that first."
_WROTE_IT = (
    "You wrote down what is kept. That it was received another one confirms: whoever takes it from you signs "
    "in, and reads its seal."
)
_READS_BLIND = "You read here, each alone. Confirm it once your readings agree; a colleague may do it now."
_NOTHING = "Somebody has said so before, or there is nothing of the kind. Nothing was changed."


@views.get("/check/<check>/emergency")
@allowed(Permission.CHECK, Permission.UNIT_STATE, protects=True)
def of_check(check: str) -> ResponseReturnValue:
    """The same of a check's infusion."""
    seen = see_progress(site(), asking.act(), check)
    if isinstance(seen, NotFound):
        return redirect(url_for("stopping.stop_at_page"), 303)
    return redirect(url_for("emergencies.page", infusion=seen.loaded.state.check.infusion), 303)


@views.get("/infusion/<infusion>/emergency")
@allowed(Permission.CHECK, Permission.UNIT_STATE, protects=True)
def page(infusion: str) -> ResponseReturnValue:
    """What happened, each in one tap."""
    return _what(infusion)


def _what(infusion: str, *, says: str = "") -> ResponseReturnValue:
    shown = render_template(
        "emergencies/what.html",
        says=says,
        infusion=infusion,
        where=where(find_place_of_infusion(site(), asking.act(), infusion)),
        harms=HARMS,
        keys=KEYS,
        away_for={f"{_AWAY}{code}": words for code, words in AWAY_FOR.items()},
    )
    return shown, 422 if says else 200


@views.post("/infusion/<infusion>/emergency")
@allowed(Permission.CHECK, Permission.UNIT_STATE, protects=True)
def note(infusion: str) -> ResponseReturnValue:
    """Write it down; what it was stands in the button."""
    write = _act_for(request.form.get("what", ""))
    if write is None:
        return _what(infusion, says="Press what happened.")
    match write(infusion):
        case emergencies.Noted(position=position, note=number):
            # What stands without a stop is put right on its own page.
            stop = number if number != position else None
            to = url_for("emergencies.after", infusion=infusion, position=position, note=stop)
            return redirect(to, 303)
        case NotFound():
            return abort(404)
        case NotAllowed():
            return abort(403)


def _act_for(what: str) -> Callable[[str], emergencies.Noted | NotFound | NotAllowed] | None:
    """What a button writes down; nothing where nobody offers it."""
    act = asking.act()
    if what in HARMS:
        return lambda infusion: emergencies.note_harm(site(), act, infusion, what=what)
    if what in KEYS:
        return lambda infusion: emergencies.note_key(site(), act, infusion, what=what)
    if what.startswith(_AWAY):
        gone = what.removeprefix(_AWAY)
        return lambda infusion: emergencies.note_away(site(), act, infusion, what=gone)
    chosen = _PLAIN.get(what)
    return None if chosen is None else lambda infusion: chosen(site(), act, infusion)


@views.get("/infusion/<infusion>/emergency/<int:position>")
@allowed(Permission.CHECK, Permission.UNIT_STATE, protects=True)
def after(infusion: str, position: int) -> ResponseReturnValue:
    """It is written down; what comes next, and what may be told of it now that there is time."""
    return _after(infusion, position)


@views.post("/infusion/<infusion>/emergency/<int:position>")
@allowed(Permission.CHECK, Permission.UNIT_STATE, protects=True)
def tell(infusion: str, position: int) -> ResponseReturnValue:
    """Write down what was told of it."""
    form = ToldForm(request.form)
    if not form.validate():
        return _after(infusion, position, form, status=422)
    told = {each.name: form.text(each.name) for each in form}
    told["given_at"] = stated_moment(told["given_at"], asking.now(), asking.zone())
    match emergencies.tell_afterwards(site(), asking.act(), infusion, position=position, told=told):
        case emergencies.Noted(is_elsewhere=True):
            return redirect(url_for("lists.my_checks"), 303)
        case emergencies.Noted():
            return redirect(url_for("infusions.page", infusion=infusion), 303)
        case emergencies.NothingStands():
            says = "Nothing was written: fill in at least one line, or go back."
            return _after(infusion, position, form, says=says, status=422)
        case NotFound():
            return abort(404)
        case NotAllowed():
            return abort(403)


@views.post("/infusion/<infusion>/evidence/<int:position>")
@allowed(Permission.CHECK, protects=True)
def seal(infusion: str, position: int) -> ResponseReturnValue:
    """Who holds device and syringe, where, and under which seal."""
    form = read_sealed(request.form, asking.now(), asking.zone())
    if form.wrong:
        return _after(infusion, position, sealed=form, status=422)
    sealed = emergencies.Sealed(**form.own, read=form.shown.answers)
    match emergencies.keep_evidence(site(), asking.act(), infusion, sealed):
        case emergencies.Noted():
            return redirect(url_for("infusions.page", infusion=infusion), 303)
        case emergencies.NothingStands():
            return _after(infusion, position, sealed=form, says=_NOTHING, status=409)
        case NotFound():
            return abort(404)
        case NotAllowed():
            return abort(403)


def _after(
    infusion: str,
    position: int,
    form: ToldForm | None = None,
    *,
    sealed: Sealed | None = None,
    says: str = "",
    status: int = 200,
) -> ResponseReturnValue:
    page = _shown(see_emergency(site(), asking.act(), infusion, position))
    happened = page.find(position)
    if happened is None:
        return redirect(url_for("emergencies.page", infusion=infusion), 303)
    return render_template(
        "emergencies/after.html",
        page=page,
        happened=happened,
        form=form or ToldForm(),
        sealed=sealed or read_sealed(MultiDict(), asking.now(), asking.zone()),
        says=says,
        note=request.args.get("note", type=int),
        may_check=may(asking.person().roles, Permission.CHECK),
    ), status


def _page(infusion: str) -> EmergencyPage:
    return _shown(see_emergencies(site(), asking.act(), infusion))


def _shown(found: EmergenciesSeen | NotFound) -> EmergencyPage:
    match found:
        case EmergenciesSeen() as seen:
            return emergency_page(seen)
        case NotFound():
            return abort(404)


@views.get("/infusion/<infusion>/back")
@allowed(Permission.CHECK)
def back_page(infusion: str) -> ResponseReturnValue:
    """What comes next when the patient is back, and the one question of it."""
    return render_template("emergencies/back.html", page=_page(infusion), opioids=OPIOIDS, says="")


@views.post("/infusion/<infusion>/back")
@allowed(Permission.CHECK)
def back(infusion: str) -> ResponseReturnValue:
    """The patient is back."""
    said = request.form.get("opioids", "")
    return _ended(infusion, emergencies.note_back(site(), asking.act(), infusion, opioids=said))


@views.get("/infusion/<infusion>/restart")
@allowed(Permission.CHECK)
def restart_page(infusion: str) -> ResponseReturnValue:
    """Ask who decided."""
    return render_template("emergencies/restart.html", page=_page(infusion), form=DecisionForm())


@views.post("/infusion/<infusion>/restart")
@allowed(Permission.CHECK)
def restart(infusion: str) -> ResponseReturnValue:
    """A prescriber decided that a held infusion may be set anew; it starts nothing."""
    form = DecisionForm(request.form)
    if form.validate():
        decided = emergencies.decide_restart(
            site(), asking.act(), infusion, prescriber=form.text("prescriber")
        )
        if not isinstance(decided, emergencies.Unclear):
            return _ended(infusion, decided)
        form.refuse_all(decided.faults)
    return render_template("emergencies/restart.html", page=_page(infusion), form=form), 422


@views.post("/infusion/<infusion>/lock-changed")
@allowed(Permission.CHANGE_LOCK)
def lock_changed(infusion: str) -> ResponseReturnValue:
    """Lock, key or code was changed."""
    return _ended(infusion, emergencies.change_lock(site(), asking.act(), infusion))


@views.get("/infusion/<infusion>/evidence")
@allowed(Permission.HOLD_EVIDENCE)
def evidence_page(infusion: str) -> ResponseReturnValue:
    """What was written of what is kept, but for its number, and the one question."""
    return _evidence(infusion, SealForm())


@views.post("/infusion/<infusion>/evidence")
@allowed(Permission.HOLD_EVIDENCE)
def confirm_evidence(infusion: str) -> ResponseReturnValue:
    """Whoever is signed in holds it, and read its seal."""
    form = SealForm(request.form)
    if not form.validate():
        return _evidence(infusion, form, status=422)
    said = holding_evidence.confirm_evidence(site(), asking.act(), infusion, seal=form.text("seal"))
    match said:
        case emergencies.Noted():
            return redirect(url_for("infusions.page", infusion=infusion), 303)
        case holding_evidence.SealApart():
            return _evidence(infusion, SealForm(), says=_APART, status=409)
        case _:
            return _not_held(said)


def _evidence(infusion: str, form: SealForm, *, says: str = "", status: int = 200) -> ResponseReturnValue:
    seen = holding_evidence.see_evidence(site(), asking.act(), infusion)
    if not isinstance(seen, holding_evidence.EvidenceSeen):
        return _not_held(seen)
    shown = render_template("emergencies/hold.html", page=hold_page(seen), form=form, says=says)
    return shown, status


def _not_held(refusal: holding_evidence.Refused) -> ResponseReturnValue:
    match refusal:
        case NotFound():
            return abort(404)
        case NotAllowed():
            return abort(403)
        case emergencies.NothingStands():
            return _refused(_NOT_KEPT)
        case holding_evidence.NoSeal():
            return _refused(_NO_SEAL)
        case holding_evidence.WroteIt():
            return _refused(_WROTE_IT)
        case ReadsBlind():
            return _refused(_READS_BLIND)


def _refused(says: str) -> ResponseReturnValue:
    return render_template("parts/refused.html", says=says), 409


@views.post("/infusion/<infusion>/release")
@allowed(Permission.RELEASE_EVIDENCE)
def release(infusion: str) -> ResponseReturnValue:
    """What was kept is given free."""
    released = emergencies.release_evidence(site(), asking.act(), infusion)
    if isinstance(released, emergencies.HadAPart):
        return _refused(_HAD_A_PART)
    if isinstance(released, emergencies.HoldsIt):
        return _refused(_HOLDS_IT)
    return _ended(infusion, released)


def _ended(
    infusion: str, said: emergencies.Noted | emergencies.NothingStands | NotFound | NotAllowed
) -> ResponseReturnValue:
    match said:
        case emergencies.Noted() | emergencies.NothingStands():
            # Said a second time it stands as it did the first.
            return redirect(url_for("infusions.page", infusion=infusion), 303)
        case NotFound():
            return abort(404)
        case NotAllowed():
            return abort(403)
