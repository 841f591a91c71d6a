"""Which other systems may send orders, for the administrator; of no patient and no check."""

from flask import Blueprint, abort, redirect, render_template, request, url_for
from flask.typing import ResponseReturnValue

from app.people import Permission, may
from app.records.order_json import REFUSALS
from app.web import asking
from app.web.access import allowed
from app.web.asking import site
from app.web.forms.senders import RevokeForm, SenderForm
from app.words.screens import NOT_A_SENDER_NAME, SENDER_NAME_TAKEN
from app.workflow import order_senders

views = Blueprint("senders", __name__)


@views.get("/senders")
@allowed(Permission.ACCOUNTS)
def page() -> ResponseReturnValue:
    """Each sender, with what came from it."""
    return _page(SenderForm())


@views.post("/senders")
@allowed(Permission.ACCOUNTS)
def add_now() -> ResponseReturnValue:
    """Let another system in; its token stands on this answer, and nowhere afterwards."""
    form = SenderForm(request.form)
    if not form.validate():
        return _page(form), 422
    match order_senders.add_sender(
        site(),
        asking.now(),
        by=asking.actor().person,
        name=form.text("name"),
        new_id=asking.parts().new_id,
    ):
        case order_senders.SenderAdded() as added:
            return _page(SenderForm(), added)
        case order_senders.NotASenderName():
            form.refuse("name", NOT_A_SENDER_NAME)
        case order_senders.SenderNameTaken():
            form.refuse("name", SENDER_NAME_TAKEN)
    return _page(form), 422


@views.post("/senders/revoke")
@allowed(Permission.ACCOUNTS)
def revoke_now() -> ResponseReturnValue:
    """Let a sender in no more."""
    name = RevokeForm(request.form).text("sender")
    match order_senders.revoke_sender(site(), asking.now(), by=asking.actor().person, name=name):
        case order_senders.SenderRevoked():
            return redirect(url_for("senders.page"), 303)
        case order_senders.NoSuchSender():
            return abort(404)


def _page(form: SenderForm, added: order_senders.SenderAdded | None = None) -> str:
    return render_template(
        "senders/page.html",
        senders=order_senders.senders(site(), asking.now()),
        # How many orders came is told to nobody who may meet a check.
        counts=not may(asking.person().roles, Permission.CHECK),
        refusals=REFUSALS,
        form=form,
        added=added,
    )
