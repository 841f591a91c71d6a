"""What did not add up by syringe, for the controlled-drug officer: by pages, and as a table to take away."""

from flask import Blueprint, Response, abort, render_template, request
from flask.typing import ResponseReturnValue

from app.people import Asked, Permission
from app.reports.syringe_table import write_syringe_table
from app.web import asking
from app.web.access import allowed
from app.web.asking import site
from app.web.forms.syringes import AccountsForm, find_account_place, write_account_place
from app.web.models.syringes import infusions_apart, table_rows
from app.workflow.looking import unit_names
from app.workflow.refusals import NotAllowed, WrongSpan
from app.workflow.syringes import (
    AccountsApart,
    AccountsAsked,
    NobodyHasIt,
    TooLong,
    accounts_apart,
    table_of_accounts,
)

views = Blueprint("syringes", __name__)

_NONE = AccountsApart(accounts=(), people={}, next_after=None)
_NOBODY = "Nobody has this staff number."
_CSV = "text/csv; charset=utf-8"


@views.get("/syringes")
@allowed(Permission.SYRINGES)
def page() -> ResponseReturnValue:
    """One page of them; each look is written down."""
    names = unit_names(site())
    form = AccountsForm(request.args)
    asked = _asked(form, names)
    if asked is None:
        return _shown(form, names, _NONE), 422
    match accounts_apart(site(), asking.act(), asking.person().roles, asked):
        case AccountsApart() as found:
            return _shown(form, names, found)
        case NobodyHasIt():
            form.refuse("staff_number", _NOBODY)
            return _shown(form, names, _NONE), 422
        case NotAllowed():
            return abort(403)


@views.post("/syringes")
@allowed(Permission.SYRINGES, asked=Asked.EACH_TIME)
def table() -> ResponseReturnValue:
    """What is filtered, as a file with names; that it was taken stands in the log."""
    names = unit_names(site())
    form = AccountsForm(request.form)
    asked = _asked(form, names)
    if asked is None:
        return _shown(form, names, _NONE), 422
    match table_of_accounts(site(), asking.act(), asking.person().roles, asked):
        case AccountsApart() as found:
            return Response(
                write_syringe_table(table_rows(infusions_apart(found, names))),
                content_type=_CSV,
                headers={"Content-Disposition": 'attachment; filename="syringes.csv"'},
            )
        case NobodyHasIt():
            form.refuse("staff_number", _NOBODY)
        case WrongSpan():
            form.refuse("last", "The last day lies before the first.")
        case TooLong():
            form.refuse("first", "For a table write both days, at most a year apart.")
        case NotAllowed():
            return abort(403)
    return _shown(form, names, _NONE), 422


def _asked(form: AccountsForm, names: dict[str, str]) -> AccountsAsked | None:
    form.unit.choices = {"": "All", **names}
    form.unit.data = form.unit.data or ""
    valid = form.validate()
    first, last = form.day("first"), form.day("last")
    if not valid or form.errors:
        return None
    return AccountsAsked(
        first=first,
        last=last,
        unit=form.text("unit"),
        staff_number=form.text("staff_number"),
        after=find_account_place(request.args.get("after", "")),
    )


def _shown(form: AccountsForm, names: dict[str, str], found: AccountsApart) -> str:
    following = found.next_after
    return render_template(
        "syringes/page.html",
        infusions=infusions_apart(found, names),
        form=form,
        older=write_account_place(following) if following else "",
    )
