"""The act of whoever confirms: the person signed in, or the other nurse with a credential on this screen."""

from flask import abort

from app.base import Act
from app.web import asking
from app.web.asking import site
from app.web.forms.confirming import ConfirmForm
from app.workflow.confirming import OtherPerson, act_for_slot
from app.workflow.looking import Seen
from app.workflow.refusals import NotNow, NotYours, TooManyTries, WrongCredential


def find_act(seen: Seen, form: ConfirmForm) -> Act | None:
    """The act of the nurse whose part the form is; None with the fault beside its field."""
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
