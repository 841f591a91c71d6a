"""Checks on training cards: what came of one, one's own, everybody's for a trainer, and signed records."""

from flask import Blueprint, Response, abort, redirect, render_template, request, url_for
from flask.typing import ResponseReturnValue

from app.people import Asked, Permission
from app.records.kept_people import KeptCompetency
from app.review.competency import record_of
from app.web import asking
from app.web.access import allowed
from app.web.asking import site
from app.web.forms.confirming import SignForm
from app.web.models.training import everybody_page, one_page, outcome_page, own_page
from app.web.passkeys import given_with, host, signing_of
from app.web.views.signing import refuse_signer
from app.words.training import OWN_MEANING, TRAINER_MEANING
from app.workflow.authenticators import see_asked
from app.workflow.competency import (
    NotSigned,
    OwnRecord,
    RecordSigned,
    Signing,
    sign_as_trainer,
    sign_own_record,
)
from app.workflow.own_signature import OtherRecord
from app.workflow.refusals import NotFound, NotYours
from app.workflow.training_outcome import Told, see_outcome
from app.workflow.training_record import (
    EverybodyTrained,
    OneTrained,
    OwnTraining,
    everybody_trained,
    find_file,
    one_trained,
    own_training,
)

views = Blueprint("training", __name__)

_CHANGED = "What there is to sign has changed since this page was shown. Nothing was signed: read it again."
_ANOTHER = "Whoever signs here is whoever is signed in: write your own id. Nothing was signed."
_OWN = "This is your own record: another trainer signs it. Nothing was signed."


@views.get("/check/<check>/training")
@allowed(Permission.UNIT_STATE, Permission.ALL_FINDINGS)
def page(check: str) -> ResponseReturnValue:
    """What was wrong, what each caught, what the comparison found, and how fast."""
    match see_outcome(site(), asking.act(), asking.person().roles, check):
        case Told() as told:
            return render_template("training/page.html", page=outcome_page(told))
        case NotFound():
            return abort(404)


@views.get("/training")
@allowed(Permission.UNIT_STATE)
def own() -> ResponseReturnValue:
    """One's own checks on cards, and the records of them."""
    return _own_page(SignForm())


@views.post("/training/sign")
@allowed(Permission.UNIT_STATE, asked=Asked.IN_ITS_FORM)
def sign() -> ResponseReturnValue:
    """Sign one's own record."""
    form = SignForm(request.form)
    if not form.validate():
        return _own_page(form, status=422)
    signing = _signing(form, asking.actor().person)
    match sign_own_record(site(), asking.act(), signing):
        case RecordSigned():
            return redirect(url_for("training.own"), 303)
        case NotFound():
            return abort(404)
        case OtherRecord():
            return _own_page(form, says=_CHANGED, status=409)
        case refusal:
            return _own_page(_refused(form, refusal), status=422)


@views.get("/training/people")
@allowed(Permission.TRAIN)
def people() -> ResponseReturnValue:
    """Who trained, and what is missed most often."""
    match everybody_trained(site(), asking.act(), asking.person().roles):
        case EverybodyTrained() as found:
            return render_template("training/people.html", page=everybody_page(found))
        case NotFound():
            return abort(404)


@views.get("/training/people/<person>")
@allowed(Permission.TRAIN)
def one(person: str) -> ResponseReturnValue:
    """One person's checks and records."""
    return _one_page(person, SignForm())


@views.post("/training/people/<person>/sign")
@allowed(Permission.TRAIN, asked=Asked.IN_ITS_FORM)
def review(person: str) -> ResponseReturnValue:
    """Sign somebody's record as a trainer."""
    form = SignForm(request.form)
    if not form.validate():
        return _one_page(person, form, status=422)
    signing, roles = _signing(form, person), asking.person().roles
    match sign_as_trainer(site(), asking.act(), signing, roles=roles, person=person):
        case RecordSigned():
            return redirect(url_for("training.one", person=person), 303)
        case NotFound():
            return abort(404)
        case OtherRecord():
            return _one_page(person, form, says=_CHANGED, status=409)
        case OwnRecord():
            return _one_page(person, form, says=_OWN, status=409)
        case refusal:
            return _one_page(person, _refused(form, refusal), status=422)


@views.get("/training/people/<person>/<int:edition>.pdf")
@allowed(Permission.UNIT_STATE, Permission.TRAIN)
def record(person: str, edition: int) -> ResponseReturnValue:
    """A signed record as its sealed PDF."""
    match find_file(site(), asking.act(), roles=asking.person().roles, person=person, edition=edition):
        case KeptCompetency(content=content):
            headers = {"Content-Disposition": f'attachment; filename="countersign-training-{edition}.pdf"'}
            return Response(content, mimetype="application/pdf", headers=headers)
        case NotFound():
            return abort(404)


def _signing(form: SignForm, person: str) -> Signing:
    digest = form.text("digest")
    return Signing(
        login=form.text("login"),
        secret=form.secret.data or "",
        digest=digest,
        given=given_with(form, signing_of(record_of(person), digest)),
    )


def _refused(form: SignForm, refusal: NotSigned) -> SignForm:
    if isinstance(refusal, NotYours):
        form.refuse("login", _ANOTHER)
        return form
    assert not isinstance(refusal, NotFound | OtherRecord | OwnRecord)  # noqa: S101  # answered before
    return refuse_signer(form, refusal)


def _own_page(form: SignForm, *, says: str = "", status: int = 200) -> ResponseReturnValue:
    match own_training(site(), asking.act()):
        case OwnTraining() as found:
            person = asking.actor().person
            return render_template(
                "training/own.html",
                page=(shown := own_page(found, person)),
                form=form,
                says=says,
                meaning=OWN_MEANING,
                act=signing_of(record_of(person), shown.digest),
                host=host(),
                beside=see_asked(site(), asking.now()),
            ), status
        case NotFound():
            return abort(404)


def _one_page(person: str, form: SignForm, *, says: str = "", status: int = 200) -> ResponseReturnValue:
    match one_trained(site(), asking.act(), roles=asking.person().roles, person=person):
        case OneTrained() as found:
            shown = one_page(found)
            return render_template(
                "training/one.html",
                page=shown,
                form=form,
                says=says,
                meaning=TRAINER_MEANING,
                act=signing_of(record_of(person), shown.to_sign.digest if shown.to_sign else ""),
                host=host(),
                beside=see_asked(site(), asking.now()),
            ), status
        case NotFound():
            return abort(404)
