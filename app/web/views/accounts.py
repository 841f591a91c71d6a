"""Accounts, for the administrator: make, rename, reset, deactivate, roles, training, unused ones."""

from typing import TypeVar

from flask import Blueprint, abort, redirect, render_template, request, url_for
from flask.typing import ResponseReturnValue

from app.people import Permission, Person, Role
from app.web import asking
from app.web.access import allowed
from app.web.asking import parts, site
from app.web.forms.accounts import NameForm, PersonForm, RolesForm, TrainingForm
from app.web.models.accounts import Account, account, accounts, roles_held, unused_logins
from app.words.screens import ROLES
from app.workflow import accounts as workflow
from app.workflow import training
from app.workflow.authenticators import NothingEnrolled, TakenAway, see_enrolled, take_away
from app.workflow.logins import list_logins
from app.workflow.looking import unit_names
from app.workflow.refusals import Incomplete

views = Blueprint("accounts", __name__)

_Form = TypeVar("_Form", PersonForm, RolesForm)

_TAKEN = {
    "login_unique": ("login", "This id belongs, or once belonged, to somebody. Ids are never used again."),
    "staff_number_unique": (
        "staff_number",
        "This staff number belongs, or once belonged, to somebody. One person has one login.",
    ),
}


@views.get("/accounts")
@allowed(Permission.ACCOUNTS)
def people_page() -> ResponseReturnValue:
    """Every account."""
    people = accounts(workflow.everyone(site()), unit_names(site()), asking.now())
    return render_template(
        "accounts/people.html", people=people, held=roles_held(people, training=asking.is_for_training())
    )


@views.get("/accounts/unused")
@allowed(Permission.ACCOUNTS)
def unused_page() -> ResponseReturnValue:
    """The logins that nobody has used for the site's time."""
    found = list_logins(site(), asking.now())
    unused = unused_logins(found, unit_names(site()), asking.now())
    return render_template("accounts/unused.html", logins=unused, after=found.after)


@views.get("/accounts/new")
@allowed(Permission.ACCOUNTS)
def new_page() -> ResponseReturnValue:
    """What an account is made from."""
    return _new_page(_person_form())


@views.post("/accounts/new")
@allowed(Permission.ACCOUNTS)
def make_now() -> ResponseReturnValue:
    """Make an account and show its one-time code, in this answer only."""
    form = _person_form()
    if not form.validate():
        return _new_page(form), 422
    made = workflow.NewPerson(
        login=form.text("login"),
        staff_number=form.text("staff_number"),
        printed_name=form.text("printed_name"),
        roles=form.chosen(),
        unit=form.text("unit"),
        is_another=bool(form.is_another.data),
    )
    outcome = workflow.make_account(
        site(), asking.now(), by=asking.actor().person, new_id=parts().new_id(), person=made
    )
    if isinstance(outcome, workflow.AccountMade):
        return _person_page(_found(outcome.person), code=outcome.code)
    _say_not_made(form, outcome)
    same = outcome.people if isinstance(outcome, workflow.SameName) else ()
    return _new_page(form, same=accounts(same, unit_names(site()), asking.now())), 422


def _say_not_made(form: PersonForm, refusal: workflow.NotMade) -> None:
    match refusal:
        case workflow.TakenName(constraint=constraint):
            form.refuse(*_TAKEN[constraint])
        case workflow.SharedName():
            form.refuse("login", "This names a group. A login is one person's.")
        case workflow.NotWrittenSo(faults=faults):
            form.refuse_all(faults)
        case workflow.SameName():
            form.refuse("is_another", "There is a login of this name. Say whether it is another person.")
        case Incomplete(fields=fields):
            form.refuse_all(dict.fromkeys(fields, "This is needed."))


@views.get("/accounts/<person>")
@allowed(Permission.ACCOUNTS)
def person_page(person: str) -> ResponseReturnValue:
    """One account."""
    return _person_page(_found(person))


@views.post("/accounts/<person>/reset")
@allowed(Permission.ACCOUNTS)
def reset_now(person: str) -> ResponseReturnValue:
    """Give a one-time code in place of the secret, and end every session."""
    match workflow.reset_account(site(), asking.now(), by=asking.actor().person, person=person):
        case workflow.Changed(code=code):
            return _person_page(_found(person), code=code)
        case workflow.NoSuchPerson():
            return abort(404)


@views.post("/accounts/<person>/authenticators")
@allowed(Permission.ACCOUNTS)
def take_authenticators_away(person: str) -> ResponseReturnValue:
    """What was lost opens nothing any more; the person enrols another."""
    match take_away(site(), asking.now(), by=asking.actor().person, person=person):
        case TakenAway() | NothingEnrolled():
            return redirect(url_for("accounts.person_page", person=_found(person).id), 303)


@views.post("/accounts/<person>/deactivate")
@allowed(Permission.ACCOUNTS)
def deactivate_now(person: str) -> ResponseReturnValue:
    """Close an account; it is never deleted."""
    return _set_active(person, active=False)


@views.post("/accounts/<person>/activate")
@allowed(Permission.ACCOUNTS)
def activate_now(person: str) -> ResponseReturnValue:
    """Bring an account back."""
    return _set_active(person, active=True)


@views.post("/accounts/<person>/roles")
@allowed(Permission.ACCOUNTS)
def change_roles(person: str) -> ResponseReturnValue:
    """Change what an account may do, from its person's next request on."""
    form = _offering(RolesForm(request.form))
    if not form.validate():
        return _person_page(_found(person), form=form), 422
    match workflow.set_roles(
        site(), asking.now(), by=asking.actor().person, person=person, roles=form.chosen()
    ):
        case workflow.Changed():
            return redirect(url_for("accounts.person_page", person=person), 303)
        case workflow.NoSuchPerson():
            return abort(404)
        case Incomplete():
            form.refuse("roles", "Choose at least one role.")
    return _person_page(_found(person), form=form), 422


@views.post("/accounts/<person>/training")
@allowed(Permission.ACCOUNTS)
def record_training(person: str) -> ResponseReturnValue:
    """Record that somebody was trained."""
    form = _training_form()
    outcome = training.record_training(
        site(),
        asking.now(),
        by=asking.actor().person,
        new_id=parts().new_id(),
        person=person,
        topic=form.text("topic"),
        trained_on=form.text("trained_on"),
    )
    match outcome:
        case training.TrainingKept():
            return redirect(url_for("accounts.person_page", person=person), 303)
        case workflow.NoSuchPerson():
            return abort(404)
        case training.OwnTraining():
            form.refuse("topic", "Nobody records their own training: another administrator does.")
        case training.WrongTraining(faults=faults):
            form.refuse_all(faults)
    return _person_page(_found(person), trained=form), 422


@views.post("/accounts/<person>/training/<number>/withdraw")
@allowed(Permission.ACCOUNTS)
def withdraw_training(person: str, number: str) -> ResponseReturnValue:
    """Let a training that was recorded wrongly count no more."""
    match training.withdraw_training(
        site(), asking.now(), by=asking.actor().person, training=number, why="recorded wrongly"
    ):
        case training.Withdrawn() | training.NoSuchTraining() | Incomplete():
            # What is asked again has been done.
            return redirect(url_for("accounts.person_page", person=person), 303)


def _training_form() -> TrainingForm:
    return TrainingForm(request.form if request.method == "POST" else None)


@views.post("/accounts/<person>/rename")
@allowed(Permission.ACCOUNTS)
def rename_now(person: str) -> ResponseReturnValue:
    """Call a person otherwise; the signing key is made, and confirmed, anew for the new name."""
    form = NameForm(request.form)
    if not form.validate():
        return _person_page(_found(person), naming=form), 422
    outcome = workflow.rename_person(
        site(),
        asking.now(),
        by=asking.actor().person,
        person=person,
        printed_name=form.text("printed_name"),
        is_another=bool(form.is_another.data),
    )
    match outcome:
        case workflow.Changed(code=""):
            return redirect(url_for("accounts.person_page", person=person), 303)
        case workflow.Changed(code=code):
            return _person_page(_found(person), code=code)
        case workflow.NoSuchPerson():
            return abort(404)
        case workflow.SameName(people=people):
            form.refuse("is_another", "There is a login of this name. Say whether it is another person.")
            same = accounts(people, unit_names(site()), asking.now())
            return _person_page(_found(person), naming=form, same=same), 422
        case workflow.NotWrittenSo(faults=faults):
            form.refuse_all(faults)
        case Incomplete():
            form.refuse("printed_name", "This is needed.")
    return _person_page(_found(person), naming=form), 422


def _set_active(person: str, *, active: bool) -> ResponseReturnValue:
    match workflow.set_active(site(), asking.now(), by=asking.actor().person, person=person, active=active):
        case workflow.Changed():
            return redirect(url_for("accounts.person_page", person=person), 303)
        case workflow.NoSuchPerson():
            return abort(404)


def _found(person: str) -> Person:
    found = workflow.find_account(site(), person)
    if found is None:
        abort(404)
    return found


def _person_form() -> PersonForm:
    form = PersonForm(request.form if request.method == "POST" else None)
    form.unit.choices = {"": "Choose"} | unit_names(site())
    return _offering(form)


def _offering(form: _Form) -> _Form:
    """A form with the roles that there are here: a trainer is one of an installation for training alone."""
    if not asking.is_for_training():
        form.roles.choices = {role: words for role, words in ROLES.items() if role != Role.TRAINER}
    return form


def _new_page(form: PersonForm, *, same: tuple[Account, ...] = ()) -> str:
    """The form; where the name belongs to somebody already, with whom."""
    return render_template("accounts/new.html", form=form, same=same)


def _person_page(
    person: Person,
    *,
    code: str = "",
    form: RolesForm | None = None,
    trained: TrainingForm | None = None,
    naming: NameForm | None = None,
    same: tuple[Account, ...] = (),
) -> str:
    """One account; where its new name belongs to somebody already, with whom."""
    return render_template(
        "accounts/person.html",
        person=account(person, unit_names(site()), asking.now()),
        code=code,
        form=form or _offering(RolesForm(data={"roles": sorted(person.roles)})),
        naming=naming or NameForm(data={"printed_name": person.printed_name}),
        same=same,
        trained=trained or _training_form(),
        topics=training.topics_asked(site(), asking.now()),
        trainings=training.see_trainings(site(), person.id),
        enrolled=see_enrolled(site(), person.id),
    )
