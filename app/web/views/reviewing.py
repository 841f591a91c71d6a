"""One finding: what the two saw, and what is done with it: looked through, given on, noted, classified."""

from dataclasses import dataclass, field
from typing import TypedDict, Unpack

from flask import Blueprint, abort, redirect, render_template, request, url_for
from flask.typing import ResponseReturnValue

from app.people import Permission
from app.web import asking
from app.web.access import allowed
from app.web.asking import site
from app.web.forms.reviewing import NOBODY, AssignForm, ClassifyForm, CommentForm, ReviewForm
from app.web.models.reviewing import finding_page, why_not_words
from app.words.reviewing import INDEX
from app.workflow import reviewing
from app.workflow.refusals import Incomplete, NotAllowed, NotFound
from app.workflow.reviewing import Answer, Done, FindingSeen, Place

views = Blueprint("reviewing", __name__)

_ONE = "/findings/<check>/<subject>/<int:round>/<int:number>"
_LOOKS = (Permission.UNIT_FINDINGS, Permission.ALL_FINDINGS)


class Where(TypedDict):
    """What an address says of a place."""

    check: str
    subject: str
    round: int
    number: int


@dataclass(frozen=True, kw_only=True)
class Forms:
    """The forms of the page, empty unless one of them came back with a fault."""

    review: ReviewForm = field(default_factory=ReviewForm)
    assign: AssignForm = field(default_factory=AssignForm)
    comment: CommentForm = field(default_factory=CommentForm)
    classify: ClassifyForm = field(default_factory=ClassifyForm)


@views.get(_ONE)
@allowed(*_LOOKS)
def page(**where: Unpack[Where]) -> ResponseReturnValue:
    """The finding, for whoever may read the list."""
    return _page(Place(**where), Forms())


@views.post(f"{_ONE}/reviewed")
@allowed(Permission.REVIEW_FINDINGS)
def reviewed(**where: Unpack[Where]) -> ResponseReturnValue:
    """Say that one has looked through it."""
    place, form = Place(**where), ReviewForm(request.form)
    if not form.validate():
        return _page(place, Forms(review=form), status=422)
    text = form.text("seen_text")
    return _came_to(place, reviewing.review(site(), asking.act(), asking.person().roles, place, text=text))


@views.post(f"{_ONE}/given")
@allowed(Permission.REVIEW_FINDINGS)
def assigned(**where: Unpack[Where]) -> ResponseReturnValue:
    """Give it to somebody."""
    place, form = Place(**where), AssignForm(request.form)
    form.to.choices = _people(_seen(place))
    if not form.validate():
        return _page(place, Forms(assign=form), status=422)
    to, text = form.text("to"), form.text("to_text")
    done = reviewing.assign(site(), asking.act(), asking.person().roles, place, to=to, text=text)
    if isinstance(done, Incomplete):
        form.refuse("to", "Choose a person.")
        return _page(place, Forms(assign=form), status=422)
    return _came_to(place, done)


@views.post(f"{_ONE}/noted")
@allowed(Permission.REVIEW_FINDINGS)
def noted(**where: Unpack[Where]) -> ResponseReturnValue:
    """Write something beside it."""
    place, form = Place(**where), CommentForm(request.form)
    if not form.validate():
        return _page(place, Forms(comment=form), status=422)
    text = form.text("note")
    return _came_to(place, reviewing.comment(site(), asking.act(), asking.person().roles, place, text=text))


@views.post(f"{_ONE}/classified")
@allowed(Permission.CLASSIFY_FINDINGS)
def classified(**where: Unpack[Where]) -> ResponseReturnValue:
    """Say what error it was."""
    place, form = Place(**where), ClassifyForm(request.form)
    if not form.validate():
        return _page(place, Forms(classify=form), status=422)
    readers = form.text("readers")
    answer = Answer(
        category=form.text("category"),
        readers="" if readers == NOBODY else readers,
        factors=tuple(form.factors.data or ()),
        text=form.text("why"),
    )
    done = reviewing.classify(site(), asking.act(), asking.person().roles, place, answer=answer)
    match done:
        case reviewing.NotTheirs() | reviewing.AlreadyGiven() | reviewing.BothGiven():
            return _page(place, Forms(classify=form), says=why_not_words(done), status=409)
        case _:
            return _came_to(place, done)


def _came_to(place: Place, done: Done | Incomplete | NotFound | NotAllowed) -> ResponseReturnValue:
    match done:
        case Done():
            return redirect(url_for("reviewing.page", **vars(place)), 303)
        case NotFound():
            return abort(404)
        case NotAllowed():
            return abort(403)
        case Incomplete():
            # The form has asked for it already.
            return abort(422)


def _seen(place: Place) -> FindingSeen:
    seen = reviewing.see_finding(site(), asking.act(), asking.person().roles, place)
    if isinstance(seen, NotFound):
        abort(404)
    if isinstance(seen, NotAllowed):
        abort(403)
    return seen


def _people(seen: FindingSeen) -> dict[str, str]:
    return {"": "Choose", **dict(sorted(seen.may_be_given.items(), key=lambda each: each[1]))}


def _page(place: Place, forms: Forms, *, says: str = "", status: int = 200) -> ResponseReturnValue:
    seen = _seen(place)
    forms.assign.to.choices = _people(seen)
    made = render_template(
        "reviewing/page.html", page=finding_page(seen), forms=forms, says=says, index=INDEX
    )
    return made, status
