"""What views of a check share: the check as far as one may see it, the way to it, whose act it is."""

from flask import abort, redirect, url_for
from flask.typing import ResponseReturnValue

from app.base import Act
from app.web import asking
from app.web.asking import site
from app.web.forms.confirming import ConfirmForm
from app.workflow.confirming import OtherPerson, act_for_slot
from app.workflow.looking import Seen, see_check
from app.workflow.refusals import NotFound, NotNow, NotYours, TooManyTries, WrongCredential


def get_seen(check: str) -> Seen:
    """The check; a check that this person may not know of is not there."""
    seen = see_check(site(), asking.act(), check)
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


def find_act(seen: Seen, form: ConfirmForm) -> Act | None:
    """The act of the nurse whose part the form is: whoever is signed in, or the other with a credential.

    None with the fault beside its field.
    """
    said = form.text("by")
    match act_for_slot(
        site(),
        asking.act(),
        seen.loaded.state,
        slot=int(said) if said in ("1", "2") else seen.slot or 0,
        login=form.text("login"),
        secret=form.secret.data or "",
    ):
        case Act() as act:
            return act
        case WrongCredential():
            form.refuse("secret", "Id and secret do not belong together. Nothing was confirmed.")
        case TooManyTries(seconds=seconds):
            form.refuse("secret", f"Too many tries with this id. Wait {seconds} s, then try again.")
        case OtherPerson():
            form.refuse("login", "This is not the nurse whose part this is. Nothing was confirmed.")
        case NotNow():
            form.refuse("login", "Until the readings agree, each confirms where signed in.")
        case NotYours():
            abort(404)
    return None
