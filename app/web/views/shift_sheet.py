"""The charge nurse's shift sheet."""

from flask import Blueprint, render_template
from flask.typing import ResponseReturnValue

from app.people import Permission
from app.web import asking
from app.web.access import allowed
from app.web.asking import site
from app.web.models.shift_sheet import sheet_page
from app.workflow.looking import unit_names
from app.workflow.shift_sheet import shift_sheet

views = Blueprint("shift_sheet", __name__)


@views.get("/shift-sheet")
@allowed(Permission.UNIT_FINDINGS)
def page() -> ResponseReturnValue:
    """What is open, what waits, and the newest checkpoint, for paper."""
    names = unit_names(site())
    made = sheet_page(shift_sheet(site(), asking.act()), asking.actor().unit, names)
    return render_template("shift_sheet/page.html", page=made)
