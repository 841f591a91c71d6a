"""Written down afterwards: the device was stopped; an infusion had to start without a check."""

from flask import Blueprint, abort, redirect, render_template, request, url_for
from flask.typing import ResponseReturnValue

from app.people import Permission
from app.records.beds import LONGEST_BED
from app.web import asking
from app.web.access import allowed
from app.web.asking import site
from app.web.forms.stopping import (
    LONGEST_NOTE,
    PlaceStopForm,
    StopAtForm,
    StopForm,
    WithoutCheckForm,
    stated_moment,
)
from app.web.models.lists import place
from app.web.models.opening import where
from app.words.names import NO_CHECK
from app.words.screens import no_such_bed
from app.workflow import placing_stops, starting, stopping
from app.workflow.beds import beds_of_unit
from app.workflow.looking import find_place, find_place_of_infusion, unit_names
from app.workflow.misplaced_starts import find_own_start, own_starts
from app.workflow.refusals import Incomplete, NoSuchBed, NoSuchUnit, NotAllowed, NotFound, NotYours

views = Blueprint("stopping", __name__)


@views.get("/check/<check>/stop")
@allowed(Permission.CHECK, Permission.UNIT_STATE, protects=True)
def stop_page(check: str) -> ResponseReturnValue:
    """The patient first; then what to write down, of which nothing is mandatory."""
    return render_template("stopping/stop.html", form=StopForm(), **_of_check(check))


@views.post("/check/<check>/stop")
@allowed(Permission.CHECK, Permission.UNIT_STATE, protects=True)
def stop_now(check: str) -> ResponseReturnValue:
    """Write down that the device was stopped."""
    noted = stopping.note_stop(site(), asking.act(), asking.person().roles, check, stop=_told())
    return _answered(noted, url_for("stopping.stopped_page", check=check))


@views.get("/check/<check>/stopped")
@allowed(Permission.CHECK, Permission.UNIT_STATE, protects=True)
def stopped_page(check: str) -> ResponseReturnValue:
    """It is written down, and what comes next."""
    return _stopped(**_of_check(check))


@views.get("/infusion/<infusion>/stop")
@allowed(Permission.CHECK, Permission.UNIT_STATE, protects=True)
def stop_unchecked_page(infusion: str) -> ResponseReturnValue:
    """The same for an infusion that runs without a check."""
    return render_template("stopping/stop.html", form=StopForm(), **_of_infusion(infusion))


@views.post("/infusion/<infusion>/stop")
@allowed(Permission.CHECK, Permission.UNIT_STATE, protects=True)
def stop_unchecked_now(infusion: str) -> ResponseReturnValue:
    """Write down that its device was stopped."""
    noted = stopping.note_stop_of_infusion(
        site(), asking.act(), asking.person().roles, infusion, stop=_told()
    )
    return _answered(noted, url_for("stopping.stopped_unchecked_page", infusion=infusion))


@views.get("/infusion/<infusion>/stopped")
@allowed(Permission.CHECK, Permission.UNIT_STATE, protects=True)
def stopped_unchecked_page(infusion: str) -> ResponseReturnValue:
    """It is written down, and what comes next."""
    return _stopped(**_of_infusion(infusion))


@views.get("/stop")
@allowed(Permission.CHECK, Permission.UNIT_STATE, protects=True)
def stop_at_page() -> ResponseReturnValue:
    """The same of a bed, whatever is known to be there."""
    return render_template("stopping/stop.html", form=_stop_at_form(), beds=_beds(), **_of_bed())


@views.post("/stop")
@allowed(Permission.CHECK, Permission.UNIT_STATE, protects=True)
def stop_at_now() -> ResponseReturnValue:
    """Write it down; neither unit nor bed is mandatory."""
    form = _stop_at_form()
    noted = stopping.note_stop_at(
        site(),
        asking.act(),
        asking.person().roles,
        unit=form.text("unit"),
        bed=form.text("bed")[:LONGEST_BED],
        stop=_told(),
    )
    return _answered(noted, url_for("stopping.stopped_at_page"))


@views.get("/stop/written")
@allowed(Permission.CHECK, Permission.UNIT_STATE, protects=True)
def stopped_at_page() -> ResponseReturnValue:
    """It is written down, and what comes next."""
    return _stopped(**_of_bed())


@views.post("/stop/<int:note>/another-bed")
@allowed(Permission.CHECK, Permission.UNIT_STATE)
def another_bed(note: int) -> ResponseReturnValue:
    """Its author says that it was written at the wrong bed, and writes it down at the right one."""
    match stopping.say_misplaced(site(), asking.act(), note):
        case stopping.SaidMisplaced(is_stop=False):
            return redirect(url_for("lists.my_checks"), 303)
        case stopping.SaidMisplaced(says=""):
            return redirect(url_for("stopping.stop_at_page"), 303)
        case stopping.SaidMisplaced():
            return redirect(url_for("stopping.two_run_page", note=note), 303)
        case NotYours() | NotFound():
            return abort(404)


@views.post("/stop/<int:note>/not-over")
@allowed(Permission.CHECK, Permission.UNIT_STATE)
def not_over(note: int) -> ResponseReturnValue:
    """Its author says that PCA did not end with it."""
    match stopping.say_not_over(site(), asking.act(), note):
        case stopping.SaidNotOver():
            return redirect(url_for("lists.my_checks"), 303)
        case NotYours() | NotFound():
            return abort(404)


@views.get("/stop/<int:note>/two-run")
@allowed(Permission.CHECK, Permission.UNIT_STATE)
def two_run_page(note: int) -> ResponseReturnValue:
    """What was said to be of another bed leaves two running that cannot both run."""
    found = stopping.find_two_run(site(), asking.act(), note)
    if found is None:
        return redirect(url_for("stopping.stop_at_page"), 303)
    return render_template("stopping/two_run.html", where=place(found.unit, found.bed), says=found.says)


@views.get("/stop/<int:note>/where")
@allowed(Permission.SETTLE_STOP)
def where_page(note: int) -> ResponseReturnValue:
    """Ask at which bed it was, or whether it was nowhere."""
    form = PlaceStopForm()
    form.unit.data = asking.actor().unit
    return _where_page(note, form)


@views.post("/stop/<int:note>/where")
@allowed(Permission.SETTLE_STOP)
def place_now(note: int) -> ResponseReturnValue:
    """It belongs to a bed, and counts for what ran there."""
    form = PlaceStopForm(request.form)
    roles = asking.person().roles
    match placing_stops.place_stop(
        site(), asking.act(), roles, note, unit=form.text("unit"), bed=form.text("bed")
    ):
        case placing_stops.StopPlaced() | placing_stops.AlreadySettled() as settled:
            return _settled(settled)
        case NoSuchUnit():
            form.refuse("unit", "Choose the unit.")
        case NoSuchBed(beds=beds):
            form.refuse("bed", no_such_bed(beds))
        case NotFound():
            return abort(404)
        case NotAllowed():
            return abort(403)
    return _where_page(note, form, 422)


@views.post("/stop/<int:note>/nowhere")
@allowed(Permission.SETTLE_STOP)
def nowhere_now(note: int) -> ResponseReturnValue:
    """Nothing of the unit was stopped."""
    match placing_stops.say_nowhere(site(), asking.act(), asking.person().roles, note):
        case placing_stops.StopPlaced() | placing_stops.AlreadySettled() as settled:
            return _settled(settled)
        case NotFound():
            return abort(404)
        case NotAllowed():
            return abort(403)


def _where_page(note: int, form: PlaceStopForm, status: int = 200) -> ResponseReturnValue:
    stop = placing_stops.find_stop_nowhere(site(), asking.act(), asking.person().roles, note)
    if stop is None:
        return redirect(url_for("lists.my_checks"), 303)
    form.unit.choices = unit_names(site())
    return render_template("stopping/where.html", form=form, beds=_beds(), stop=stop), status


def _settled(said: placing_stops.StopPlaced | placing_stops.AlreadySettled) -> ResponseReturnValue:
    """Back to the list; in words where somebody else was first, or nothing ran there."""
    match said:
        case placing_stops.StopPlaced(counts_for=0, bed=bed) if bed:
            says = f"Written down: it was at bed {bed}. Nothing that is known ran there then."
        case placing_stops.AlreadySettled(by=by, bed=bed):
            at = f"it was at bed {bed}" if bed else "it was nowhere, or at another bed"
            says = f"{by or 'Somebody'} has said before: {at}. Nothing was changed."
        case _:
            return redirect(url_for("lists.my_checks"), 303)
    return render_template("stopping/settled.html", says=says)


def _stopped(**of: str) -> ResponseReturnValue:
    """It is written down; its author may put right where it was, and whether PCA ended with it."""
    # The number of the stop that was just written down.
    note = request.args.get("note", type=int)
    for_good = note is not None and stopping.may_be_not_over(site(), asking.act(), note)
    return render_template("stopping/stopped.html", note=note, for_good=for_good, **of)


def _of_check(check: str) -> dict[str, str]:
    return {
        "stop": url_for("stopping.stop_page", check=check),
        "back": url_for("comparison.page", check=check),
        "back_words": "back to the check",
        "where": where(find_place(site(), asking.act(), check)),
        "emergency": url_for("emergencies.of_check", check=check),
    }


def _of_infusion(infusion: str) -> dict[str, str]:
    return {
        "stop": url_for("stopping.stop_unchecked_page", infusion=infusion),
        "back": url_for("lists.my_checks"),
        "back_words": "back to my checks",
        "where": where(find_place_of_infusion(site(), asking.act(), infusion)),
        "emergency": url_for("emergencies.page", infusion=infusion),
    }


def _of_bed() -> dict[str, str]:
    return {
        "stop": url_for("stopping.stop_at_page"),
        "back": url_for("lists.my_checks"),
        "back_words": "back to my checks",
        "where": "",
        "emergency": "",
    }


def _told() -> stopping.Stop:
    form = StopForm(request.form)
    return stopping.Stop(
        stopped_at=_moment(form.text("stopped_at")),
        why=form.reason(),
        totals=form.text("totals")[:LONGEST_NOTE],
    )


def _answered(noted: stopping.StopNoted | NotAllowed | NotFound, stopped: str) -> ResponseReturnValue:
    match noted:
        case stopping.StopNoted():
            return redirect(f"{stopped}?note={noted.note}", 303)
        case NotAllowed():
            return abort(403)
        case NotFound():
            return abort(404)


@views.get("/check/<check>/had-to-start")
@allowed(Permission.CHECK, protects=True)
def had_to_start_page(check: str) -> ResponseReturnValue:
    """Why, in one tap."""
    place = find_place(site(), asking.act(), check)
    return render_template("stopping/had_to_start.html", check=check, where=where(place), reasons=NO_CHECK)


@views.post("/check/<check>/had-to-start")
@allowed(Permission.CHECK, protects=True)
def had_to_start(check: str) -> ResponseReturnValue:
    """It runs without a check: the one that was open ends, and a blind one is due."""
    reason = NO_CHECK.get(request.form.get("why", ""), NO_CHECK["other"])
    match starting.note_start_despite_check(site(), asking.act(), check, reason=reason):
        case starting.StartNoted():
            return redirect(url_for("lists.my_checks"), 303)
        case NotFound():
            return abort(404)
        case NotAllowed():
            return abort(403)


@views.get("/started-without-check")
@allowed(Permission.CHECK, protects=True)
def without_check_page() -> ResponseReturnValue:
    """Where, and why no check could be had in time."""
    return _without_check(_without_check_form())


@views.post("/started-without-check")
@allowed(Permission.CHECK, protects=True)
def without_check_now() -> ResponseReturnValue:
    """Note that an infusion runs without a check; it is never called cleared, and tops the unit's list."""
    form = _without_check_form()
    if not form.validate():
        return _without_check(form, 422)
    match starting.note_start_without_check(
        site(),
        asking.act(),
        unit=form.text("unit"),
        bed=form.text("bed"),
        reason=form.text("reason"),
        started_at=_moment(form.text("started_at")),
    ):
        case starting.StartNoted():
            return redirect(url_for("lists.my_checks"), 303)
        case Incomplete():
            form.refuse("reason", "Say why.")
        case NoSuchUnit():
            form.refuse("unit", "Choose the unit.")
        case NoSuchBed(beds=beds):
            form.refuse("bed", no_such_bed(beds))
    return _without_check(form, 422)


def _without_check(form: WithoutCheckForm, status: int = 200) -> ResponseReturnValue:
    note = request.args.get("put_right", type=int)
    own = find_own_start(site(), asking.act(), note) if note else None
    put_right = own if own is not None and not own.counts else None
    others = own_starts(site(), asking.act())
    page = render_template(
        "stopping/without_check.html",
        form=form,
        beds=_beds(),
        put_right=put_right,
        was_at=place(put_right.unit, put_right.bed) if put_right else "",
        others=[(each, place(each.unit, each.bed)) for each in others],
    )
    return page, status


def _beds() -> tuple[str, ...]:
    """What is offered where a bed is asked: those of the unit of the shift."""
    return beds_of_unit(site(), asking.actor().unit)


def _moment(text: str) -> str:
    return stated_moment(text, asking.now(), asking.zone())


def _stop_at_form() -> StopAtForm:
    form = StopAtForm(request.form if request.method == "POST" else None)
    form.unit.choices = unit_names(site())
    if request.method == "GET":
        form.unit.data = asking.actor().unit
    return form


def _without_check_form() -> WithoutCheckForm:
    form = WithoutCheckForm(request.form if request.method == "POST" else None)
    form.unit.choices = {"": "Choose"} | unit_names(site())
    if request.method == "GET":
        form.unit.data = asking.actor().unit
    return form
