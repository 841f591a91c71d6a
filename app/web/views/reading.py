"""Read the sources, one a screen; look over the own reading; hand it in; wait."""

from dataclasses import dataclass
from functools import partial

from flask import Blueprint, Response, abort, redirect, render_template, request, url_for
from flask.typing import ResponseReturnValue

from app.base import Act
from app.people import Permission
from app.quantities import DateOrder
from app.records.fields import FIELDS
from app.records.reading import sources_in
from app.records.rules import LIBRARY, PACKS
from app.records.sources import Source
from app.records.state import BLIND
from app.web import asking
from app.web.access import allowed
from app.web.acts import get_progress, to_check
from app.web.asking import parts, site
from app.web.forms.danger import DangerForm
from app.web.forms.reading import (
    Offered,
    ReadForm,
    empty_form,
    read_form,
    source_named,
    typed_form,
    typed_in,
)
from app.web.forms.scanning import SCAN, FilledIn, fields_for_scan, fill_in
from app.web.models.opening import where
from app.web.models.reading import review_page, source_after, source_page, waiting_page
from app.web.views.signing_in import sign_out_here, without_session
from app.web.views.unlocking import lock_here
from app.workflow import reading
from app.workflow.comparing import compare_round
from app.workflow.looking import find_place
from app.workflow.reading import AlreadyHandedIn, Desk, Refusal, SignInAnew
from app.workflow.refusals import NotFound, NotNow, NotYours

views = Blueprint("reading", __name__)

BACK, HAND_OVER, FILL_IN = "back", "hand-over", "fill-in"
_KEPT_ELSEWHERE = (
    "You have kept this source on another page since, otherwise than it stands here. "
    "Keep what stands here instead, or show what is kept."
)
_LOOK_AGAIN = (
    "Your reading is not what that page showed any more, so nothing was handed in. Look over it once more."
)


@views.get("/check/<check>/read/<source>")
@allowed(Permission.CHECK)
def source_form(check: str, source: str) -> ResponseReturnValue:
    """One source: empty, or with what this same person has written in it in this round."""
    desk = reading.open_desk(site(), asking.act(), check)
    if not isinstance(desk, Desk):
        return _refused(desk, check)
    wanted = _source(desk, source)
    fields = desk.fields(wanted)
    if wanted.value in desk.typed:
        form = typed_form(fields, desk.typed[wanted.value], _offered(desk))
    else:
        form = empty_form(fields, desk.answers.get(wanted.value, {}), _offered(desk))
    return _source_page(desk, wanted, form)


def _keep_what_came_late(act: Act, check: str, source: str) -> None:
    """The session ran out before the press: what was typed is there after signing in again."""
    _keep_typing(act, check, source)


def _keep_typing(act: Act, check: str, source: str) -> reading.TypingKept | reading.TypingNotKept | Refusal:
    wanted = source_named(source)
    if wanted is None:
        return NotFound()
    typed = typed_in(FIELDS[wanted], request.form)
    return reading.keep_typing(site(), act, check, source=wanted, typed=typed, page=_shown_page())


@views.post("/check/<check>/read/<source>/sign-out")
@allowed(Permission.CHECK, late=_keep_what_came_late)
def keep_typing_and_sign_out(check: str, source: str) -> ResponseReturnValue:
    """Sign out in the middle of a source: what stands in its fields goes with the press, and waits."""
    _keep_typing(asking.act(), check, source)
    return sign_out_here()


@views.post("/check/<check>/read/<source>/lock")
@allowed(Permission.CHECK, late=_keep_what_came_late)
def keep_typing_and_lock(check: str, source: str) -> ResponseReturnValue:
    """Lock this screen in the middle of a source: what stands in its fields waits for its author."""
    _keep_typing(asking.act(), check, source)
    return lock_here(url_for("reading.source_form", check=check, source=source))


@views.post("/check/<check>/read/<source>/typing")
@allowed(Permission.CHECK, late=_keep_what_came_late)
def keep_typing(check: str, source: str) -> ResponseReturnValue:
    """Keep what stands in the fields while it is written; it counts only once a press keeps it."""
    match _keep_typing(asking.act(), check, source):
        case reading.TypingKept():
            return "", 204
        case reading.TypingNotKept() | NotNow() | SignInAnew() | AlreadyHandedIn():
            return "", 409
        case NotFound() | NotYours():
            return abort(404)


@views.post("/check/<check>/read/<source>")
@allowed(Permission.CHECK, late=_keep_what_came_late)
def keep_source(check: str, source: str) -> ResponseReturnValue:
    """Keep what was written in one source, and go on to the next or back."""
    wanted, page = source_named(source), _shown_page()
    if wanted is None:
        abort(404)
    match reading.save_draft(
        site(), asking.act(), check, source=wanted, page=page, read=partial(_read, wanted)
    ):
        case reading.Saved(desk=desk):
            return _onward(check, desk, wanted)
        case reading.NotKept(desk=desk, why=again):
            made = _source_page(desk, wanted, again.form, page=page, filled=again.filled)
            return made, 200 if again.filled and not again.filled.fault else 422
        case reading.Stale(desk=desk):
            return _stale(desk, wanted)
        case reading.ReadAnew():
            return _to_source(check, wanted)
        case NotFound() | NotYours() | NotNow() | SignInAnew() | AlreadyHandedIn() as refusal:
            return _refused(refusal, check)


@dataclass(frozen=True, kw_only=True)
class _Again:
    """A form that is shown again: for its faults, or because a scan has filled in some of it."""

    form: ReadForm
    filled: FilledIn | None = None


def _read(source: Source, desk: Desk) -> dict[str, str] | _Again:
    """The answers that were written, unless the form is shown again."""
    filled = _filled_in(desk, source)
    if filled is not None:
        return _Again(form=filled.form, filled=filled)
    form = _form(desk, source)
    return _Again(form=form) if form.wrong else form.answers


def _form(desk: Desk, source: Source) -> ReadForm:
    return read_form(desk.fields(source), request.form, _offered(desk))


def _filled_in(desk: Desk, source: Source) -> FilledIn | None:
    """What a scan fills in: when that was asked for, and before anyone goes on from a scan not yet used."""
    fields = desk.fields(source)
    is_asked = request.form.get("go") == FILL_IN
    if not fields_for_scan(fields) or not (is_asked or request.form.get(SCAN)):
        return None
    filled = fill_in(source, fields, request.form, _offered(desk))
    return filled if is_asked or not filled.fault else None


def _stale(desk: Desk, source: Source) -> ResponseReturnValue:
    """Another window of the same person was faster; the same answers sent twice do no harm."""
    form = _form(desk, source)
    if desk.answers.get(source.value, {}) == form.answers:
        return _onward(desk.state.check.id, desk, source)
    # It shows the newest now, so that a press says that this is to stand.
    return _source_page(desk, source, form, says=_KEPT_ELSEWHERE), 409


@views.get("/check/<check>/read")
@allowed(Permission.CHECK)
def review(check: str) -> ResponseReturnValue:
    """The own reading before it is handed in; whoever has written nothing yet begins at the first source."""
    desk = reading.open_desk(site(), asking.act(), check)
    if not isinstance(desk, Desk):
        return _refused(desk, check)
    if not desk.written.kept:
        return _to_source(check, sources_in(desk.round.scope)[0])
    return _review(desk)


def _review(desk: Desk, says: str = "") -> str:
    page = review_page(desk, dict(_offered(desk).packs))
    return render_template("reading/review.html", page=page, says=says)


@views.post("/check/<check>/hand-in")
@allowed(Permission.CHECK)
def hand_in(check: str) -> ResponseReturnValue:
    """Lock the own reading; the second hand-in has the round compared, in a transaction of its own."""
    leaving = request.form.get("go") == HAND_OVER
    match reading.hand_in(site(), asking.act(), check, page=_shown_page(), leaving=leaving):
        case reading.HandedIn(both=both):
            if both:
                compare_round(site(), check, asking.now())
            return _handed_over(check) if leaving else _to_waiting(check)
        case reading.NotAsShown():
            return _look_again(check)
        case NotFound() | NotYours() | NotNow() | SignInAnew() | AlreadyHandedIn() as refusal:
            return _refused(refusal, check)


def _look_again(check: str) -> ResponseReturnValue:
    desk = reading.open_desk(site(), asking.act(), check)
    return (_review(desk, _LOOK_AGAIN), 409) if isinstance(desk, Desk) else _refused(desk, check)


@views.get("/check/<check>/waiting")
@allowed(Permission.CHECK)
def waiting(check: str) -> ResponseReturnValue:
    """After handing in: waiting for both readings, or both handed in; no time and no value."""
    seen = get_progress(check)
    state = seen.loaded.state
    if seen.slot is None or state.current is None:
        abort(404)
    if state.phase not in BLIND:
        return to_check(check)
    if seen.slot not in state.current.handed_in:
        return redirect(url_for("reading.review", check=check), 303)
    return render_template("reading/waiting.html", page=waiting_page(seen, state.current))


@views.get("/check/<check>/danger")
@allowed(Permission.CHECK, protects=True)
def danger_page(check: str) -> ResponseReturnValue:
    """What to do first; then, that the reading is void."""
    return _danger_page(check, voided=False)


@views.post("/check/<check>/danger")
@allowed(Permission.CHECK, protects=True)
def say_danger(check: str) -> ResponseReturnValue:
    """Void the round for both, without blame; what both wrote in other sources stands."""
    form = DangerForm(request.form)
    match reading.say_danger(site(), asking.act(), check, why=form.told(), sources=form.source.data or ()):
        case reading.Voided():
            return _danger_page(check, voided=True)
        case NotNow():
            return to_check(check)
        case NotFound() | NotYours():
            return abort(404)


def _danger_page(check: str, *, voided: bool) -> str:
    place = find_place(site(), asking.act(), check)
    if place is None:
        abort(404)
    form = DangerForm().offer(place.kind)
    return render_template("reading/danger.html", check=check, where=where(place), form=form, voided=voided)


def _refused(refusal: Refusal, check: str) -> ResponseReturnValue:
    match refusal:
        case NotFound() | NotYours():
            return abort(404)
        case NotNow():
            return to_check(check)
        case AlreadyHandedIn():
            return _to_waiting(check)
        case SignInAnew():
            return render_template("reading/sign_in_anew.html"), 409


def _source(desk: Desk, name: str) -> Source:
    source = source_named(name)
    if source is None or source not in sources_in(desk.round.scope):
        abort(404)
    return source


def _shown_page() -> reading.Page:
    return reading.Page(round=_number("round"), version=_number("version"))


def _number(name: str) -> int:
    text = request.form.get(name, "")
    if not (text.isascii() and text.isdigit() and len(text) <= len("999999")):
        abort(400)
    return int(text)


def _offered(desk: Desk) -> Offered:
    zone, baseline = asking.zone(), desk.rules.policy.baseline
    return Offered(
        drugs=tuple(sorted(desk.rules.content(LIBRARY)["drugs"], key=str.casefold)),
        fluids=tuple(desk.rules.policy.engine.get("carrier_fluids", ())),
        packs=tuple((each["key"], each["words"]) for each in desk.rules.content(PACKS)["packs"]),
        levels=tuple((baseline.as_read(words), words) for _, words in baseline.levels),
        scale=baseline.scale,
        zone=zone,
        today=asking.now().astimezone(zone).date(),
        adult_age=desk.rules.policy.adult_age,
        date_order=DateOrder(parts().settings.date_order),
    )


def _source_page(
    desk: Desk,
    source: Source,
    form: ReadForm,
    *,
    page: reading.Page | None = None,
    says: str = "",
    filled: FilledIn | None = None,
) -> str:
    made = source_page(desk, source, form, shown=page or desk.page)
    return render_template("reading/source.html", page=made, form=form, says=says, filled=filled)


def _onward(check: str, desk: Desk, source: Source) -> ResponseReturnValue:
    sources = sources_in(desk.round.scope)
    if request.form.get("go") == BACK and source is not sources[0]:
        return _to_source(check, sources[sources.index(source) - 1])
    after = source_after(desk, source)
    if after is not None:
        return _to_source(check, after)
    return redirect(url_for("reading.review", check=check), 303)


def _to_source(check: str, source: Source) -> Response:
    made = redirect(url_for("reading.source_form", check=check, source=source.value), 303)
    assert isinstance(made, Response)  # noqa: S101  # the application's own class
    return made


def _to_waiting(check: str) -> ResponseReturnValue:
    return redirect(url_for("reading.waiting", check=check), 303)


def _handed_over(check: str) -> ResponseReturnValue:
    """The session has ended at the server and ends here: the screen shows nothing of either person.

    Whoever takes it goes on with the check.
    """
    then = url_for("comparison.page", check=check)
    return without_session(redirect(url_for("signing_in.handed_over_page", then=then), 303))
