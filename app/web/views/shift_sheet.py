"""The charge nurse's shift sheet."""

from flask import Blueprint, Response, abort, render_template
from flask.typing import ResponseReturnValue

from app.people import Permission
from app.web import asking
from app.web.access import allowed
from app.web.asking import site
from app.web.models.shift_sheet import sheet_page
from app.workflow.looking import unit_names
from app.workflow.refusals import NotAllowed
from app.workflow.shift_sheet import shift_sheet
from app.workflow.shift_sheet_on_paper import ShiftSheetOnPaper, shift_sheet_on_paper

views = Blueprint("shift_sheet", __name__)


@views.get("/shift-sheet")
@allowed(Permission.UNIT_FINDINGS)
def page() -> ResponseReturnValue:
    """What is open, what waits, and the newest checkpoint, for paper."""
    names = unit_names(site())
    made = sheet_page(shift_sheet(site(), asking.act()), asking.actor().unit, names)
    return render_template("shift_sheet/page.html", page=made)


@views.get("/shift-sheet/sheet.pdf")
@allowed(Permission.UNIT_FINDINGS)
def paper() -> ResponseReturnValue:
    """The same for paper, with what was caught since the last shift: on one page if it can be."""
    match shift_sheet_on_paper(site(), asking.act()):
        case ShiftSheetOnPaper(pdf=pdf, unit=unit):
            headers = {"Content-Disposition": f'attachment; filename="countersign-shift-sheet-{unit}.pdf"'}
            return Response(pdf, mimetype="application/pdf", headers=headers)
        case NotAllowed():
            return abort(403)
