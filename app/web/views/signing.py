"""Sign the record: id and secret, every time, by each of the two."""

from flask import Blueprint, abort, redirect, render_template, request, url_for
from flask.typing import ResponseReturnValue

from app.people import Asked, Permission
from app.records.kinds import End
from app.records.restarting import HeldBack
from app.records.state import Phase
from app.web import asking
from app.web.access import allowed
from app.web.acts import NOT_READY, to_check
from app.web.asking import site
from app.web.forms.confirming import SignForm
from app.web.models.record import record_page
from app.web.passkeys import given_with, host, signing_of
from app.words.checking import not_signed_words
from app.words.emergencies import held_back_words
from app.workflow import signing
from app.workflow.authenticators import NoneEnrolled, WrongFactor, see_asked
from app.workflow.elsewhere import RunsElsewhere
from app.workflow.looking import RecordSeen, see_record
from app.workflow.own_signature import NotReady, NotTheSigner, OtherRecord
from app.workflow.refusals import (
    KeyDoesNotOpen,
    KeyNotConfirmed,
    NotAllowed,
    NotFound,
    NotNow,
    NotYours,
    TooManyTries,
    WrongCredential,
)

views = Blueprint("signing", __name__)

_OTHER_RECORD = "The record has changed since this page was shown. Read it again before signing."
_STILL_OPEN = "Something is open again: a stop, a caution, a step or a request for help."
_SIGNED = "This nurse's signature is on already. The other one signs."
_NEITHER = "This is neither of the two nurses of this check. Nothing was signed."
_WRONG = "Id and secret do not belong together. Nothing was signed."


_NO_KEY = (
    "This nurse's signing key is not confirmed yet: a colleague who knows this person confirms it "
    "face to face, on the page My signature. Nothing was signed."
)
_CLOSED = (
    "The secret is right and does not open this nurse's signing key: something stored was changed. "
    "Nothing was signed. Tell the administrator now; a reset makes a new key."
)

_NOT_ENROLLED = (
    "Your role is asked for a code or a passkey beside the secret, and you have enrolled none: sign in "
    "yourself and enrol it. Nothing was signed."
)

Refused = NotTheSigner | signing.AlreadySigned


@views.get("/check/<check>/sign")
@allowed(Permission.CHECK)
def page(check: str) -> ResponseReturnValue:
    """What is signed, in a form that people read."""
    record = _record(check)
    match record.check.loaded.state.phase:
        case Phase.SIGNING:
            return _sign_page(record, SignForm())
        case Phase.CLEARED | Phase.DONE:
            # Whoever waited here for the other's signature goes on as the other did.
            return _after_both(check, record.check.loaded.state.kind.end)
        case _:
            return to_check(check)


@views.post("/check/<check>/sign")
@allowed(Permission.CHECK, asked=Asked.IN_ITS_FORM)
def sign(check: str) -> ResponseReturnValue:
    """Put one signature on."""
    form = SignForm(request.form)
    if not form.validate():
        return _sign_page(_record(check), form, status=422)
    match signing.sign_record(
        site(),
        asking.act(),
        check,
        login=form.text("login"),
        secret=form.secret.data or "",
        digest=form.text("digest"),
        given=given_with(form, signing_of(check, form.text("digest"))),
    ):
        case signing.Signed(end=End() as end):
            return _after_both(check, end)
        case signing.Signed():
            return redirect(url_for("signing.page", check=check), 303)
        case OtherRecord() | signing.StillOpen() | RunsElsewhere() | HeldBack() as stale:
            return _sign_page(_record(check), form, says=_stale_words(stale), status=409)
        case NotNow():
            return to_check(check)
        case NotFound():
            return abort(404)
        case (
            WrongCredential()
            | TooManyTries()
            | NotYours()
            | NotReady()
            | KeyNotConfirmed()
            | KeyDoesNotOpen()
            | NoneEnrolled()
            | WrongFactor()
            | signing.AlreadySigned() as refusal
        ):
            return _sign_page(_record(check), refuse_signer(form, refusal), status=422)


def _stale_words(stale: OtherRecord | signing.StillOpen | RunsElsewhere | HeldBack) -> str:
    """Why nothing is signed now, whoever signs."""
    match stale:
        case OtherRecord():
            return _OTHER_RECORD
        case signing.StillOpen():
            return _STILL_OPEN
        case RunsElsewhere(says=where):
            return not_signed_words(where)
        case HeldBack():
            return f"Nothing was signed. {held_back_words(stale)}"


_SAYS: dict[type[Refused], tuple[str, str]] = {
    WrongCredential: ("secret", _WRONG),
    NotYours: ("login", _NEITHER),
    NotReady: ("login", f"{NOT_READY} Nothing was signed."),
    KeyNotConfirmed: ("login", _NO_KEY),
    KeyDoesNotOpen: ("login", _CLOSED),
    NoneEnrolled: ("login", _NOT_ENROLLED),
    signing.AlreadySigned: ("login", _SIGNED),
}


def refuse_signer(form: SignForm, refusal: Refused) -> SignForm:
    """Say beside its field what is wrong with who signs; the id stays, the secret does not."""
    match refusal:
        case TooManyTries(seconds=seconds):
            form.refuse("secret", f"Too many tries with this id. Wait {seconds} s, then try again.")
        case WrongFactor(says=says, kind=kind):
            form.refuse(kind, says)
        case _:
            form.refuse(*_SAYS[type(refusal)])
    return form


def _sign_page(
    record: RecordSeen, form: SignForm, *, says: str = "", status: int = 200
) -> ResponseReturnValue:
    meaning = record.check.loaded.state.kind.meaning
    page = record_page(record)
    return render_template(
        "signing/sign.html",
        page=page,
        form=form,
        meaning=meaning,
        says=says,
        act=signing_of(page.head.check, page.digest),
        host=host(),
        beside=see_asked(site(), asking.now()),
    ), status


def _record(check: str) -> RecordSeen:
    """The record that stands, for one of the two."""
    match see_record(site(), asking.act(), check):
        case RecordSeen() as record if record.check.slot is not None:
            return record
        case RecordSeen() | NotFound() | NotAllowed():
            return abort(404)


def _after_both(check: str, end: End) -> ResponseReturnValue:
    """Where both signatures lead: to the last look, or to the record of what is done."""
    return redirect(url_for("starting.page" if end is End.CLEARED else "record.page", check=check), 303)
