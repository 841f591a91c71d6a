"""What did not add up by syringe, for the controlled-drug officer."""

from flask import Blueprint, abort, render_template, request
from flask.typing import ResponseReturnValue

from app.people import Permission
from app.web import asking
from app.web.access import allowed
from app.web.asking import site
from app.web.forms.syringes import find_account_place, write_account_place
from app.web.models.syringes import infusions_apart
from app.workflow.looking import unit_names
from app.workflow.refusals import NotAllowed
from app.workflow.syringes import AccountsApart, accounts_apart

views = Blueprint("syringes", __name__)


@views.get("/syringes")
@allowed(Permission.SYRINGES)
def page() -> ResponseReturnValue:
    """One page of them; each look is written down."""
    after = find_account_place(request.args.get("after", ""))
    match accounts_apart(site(), asking.act(), asking.person().roles, after=after):
        case AccountsApart(next_after=following) as found:
            return render_template(
                "syringes/page.html",
                infusions=infusions_apart(found, unit_names(site())),
                older=write_account_place(following) if following else "",
            )
        case NotAllowed():
            return abort(403)
