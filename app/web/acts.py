"""What views of a check share: the check as far as one may see it, the way to it, whose act it is."""

from flask import abort, redirect, url_for
from flask.typing import ResponseReturnValue

from app.web import asking
from app.web.asking import site
from app.web.forms.confirming import ConfirmForm
from app.workflow.confirming import NotConfirmed, Part, Unconfirmed, part_with, part_with_pin
from app.workflow.looking import Seen, see_check, see_progress
from app.workflow.refusals import NotFound, TooManyTries, WrongCredential
from app.workflow.shift_sessions import ShiftOver, WrongPin

_WRONG = "Id and secret do not belong together. Nothing was confirmed."
NOT_READY = "The site asks something of this nurse first, which stands on the page My signature."


def get_seen(check: str) -> Seen:
    """The check; a check that this person may not know of is not there."""
    seen = see_check(site(), asking.act(), check)
    if isinstance(seen, NotFound):
        abort(404)
    return seen


def get_progress(check: str) -> Seen:
    """The same, for a page that shows nothing but how far it is."""
    seen = see_progress(site(), asking.act(), check)
    if isinstance(seen, NotFound):
        abort(404)
    return seen


def get_own(check: str) -> Seen:
    """The check, for one of its two."""
    seen = get_seen(check)
    if seen.slot is None:
        abort(404)
    return seen


def to_check(check: str) -> ResponseReturnValue:
    """On to the page of the check."""
    return redirect(url_for("comparison.page", check=check), 303)


def find_part(form: ConfirmForm) -> Part | None:
    """The part that the form was served for, with the credential given; None with the fault beside it."""
    said = form.text("by")
    slot = int(said) if said in ("1", "2") else None
    secret, pin = form.secret.data or "", form.pin.data or ""
    match (
        part_with_pin(site(), asking.act(), slot=slot, shift_session=form.text("shift_session"), pin=pin)
        if pin
        else part_with(site(), asking.act(), slot=slot, login=form.text("login"), secret=secret)
    ):
        case Part() as part:
            return part
        case WrongPin(left=left):
            form.refuse("pin", wrong_pin_words(left))
        case ShiftOver():
            form.refuse("secret", "The six digits open nothing here any more. Id and secret are needed.")
        case WrongCredential():
            form.refuse("secret", _WRONG)
        case TooManyTries(seconds=seconds):
            form.refuse("secret", f"Too many tries with this id. Wait {seconds} s, then try again.")
    return None


def wrong_pin_words(left: int) -> str:
    """What is left after a wrong try."""
    tries = "1 try is" if left == 1 else f"{left} tries are"
    return f"These are not the six digits. {tries} left; then id and secret are needed."


def say_not_confirmed(form: ConfirmForm, refusal: NotConfirmed) -> None:
    """Say beside its field why the part was not confirmed."""
    match refusal.why:
        case Unconfirmed.NO_CREDENTIAL:
            form.refuse("secret", _WRONG)
        case Unconfirmed.OTHER_PERSON:
            form.refuse("login", "This is not the nurse whose part this is. Nothing was confirmed.")
        case Unconfirmed.NOT_SEEN:
            form.refuse("login", "No colleague has confirmed this nurse's key since the login was reset.")
        case Unconfirmed.NOT_READY:
            form.refuse("login", f"{NOT_READY} Nothing was confirmed.")
        case Unconfirmed.EACH_ALONE:
            form.refuse("login", "Until the readings agree, each confirms where signed in.")
