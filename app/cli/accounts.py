"""Accounts on the command line: made with a one-time code, never with a secret that the operator knows."""

import json
from collections.abc import Iterable

import click

from app.base import OPERATOR
from app.cli.installation import fail, now, open_site, settings
from app.keys import new_id
from app.people import Person, Role
from app.site.installation import Site
from app.workflow import accounts, authenticators, training
from app.workflow.logins import list_logins, login_line
from app.workflow.refusals import Incomplete

_FIELDS = {"login": "login", "staff_number": "staff number", "printed_name": "name"}


@click.group()
def account() -> None:
    """Make, rename, reset or deactivate an account, or take its authenticators away."""


@account.command()
@click.option("--login", required=True)
@click.option("--staff-number", required=True)
@click.option("--name", required=True, help="The printed name that stands beside signatures.")
@click.option(
    "--role", "roles", required=True, multiple=True, type=click.Choice([role.value for role in Role])
)
@click.option("--unit", required=True)
@click.option("--another-person", is_flag=True, help="Somebody has this name, and this is another person.")
def make(
    *, login: str, staff_number: str, name: str, roles: tuple[str, ...], unit: str, another_person: bool
) -> None:
    """Make an account and print its one-time code once."""
    person = accounts.NewPerson(
        login=login,
        staff_number=staff_number,
        printed_name=name,
        roles=frozenset(Role(role) for role in roles),
        unit=unit,
        is_another=another_person,
    )
    match accounts.make_account(_site(), now(), by=OPERATOR, new_id=new_id(), person=person):
        case accounts.AccountMade(code=code):
            click.echo(f"one-time code for {login}: {code}")
        case accounts.TakenName():
            fail("login or staff number belongs, or once belonged, to somebody; neither is used again")
        case accounts.NotWrittenSo(faults=faults):
            fail("\n".join(f"{_FIELDS[field]}: {says}" for field, says in faults.items()))
        case accounts.SameName(people=people):
            fail(_same(people))
        case accounts.SharedName():
            fail("an account is one person's: choose a login that names a person")
        case Incomplete(fields=fields):
            fail(f"missing: {', '.join(fields)}")


@account.command()
@click.argument("login")
def reset(login: str) -> None:
    """Replace a person's secret by a one-time code, and end their sessions."""
    site = _site()
    match accounts.reset_account(site, now(), by=OPERATOR, person=_id_of(site, login)):
        case accounts.Changed(code=code):
            click.echo(f"one-time code for {login}: {code}")
        case accounts.NoSuchPerson():
            fail("there is no such account")


@account.command()
@click.argument("login")
@click.option("--name", required=True, help="The printed name from now on.")
@click.option("--another-person", is_flag=True, help="Somebody has this name, and this is another person.")
def rename(*, login: str, name: str, another_person: bool) -> None:
    """Call a person otherwise from now on; their signing key is made and confirmed anew for the new name."""
    site = _site()
    person = _id_of(site, login)
    match accounts.rename_person(
        site, now(), by=OPERATOR, person=person, printed_name=name, is_another=another_person
    ):
        case accounts.Changed(code=""):
            click.echo(f"{login} has this name already")
        case accounts.Changed(code=code):
            click.echo(f"{login} is called {name.strip()} from now on; one-time code for {login}: {code}")
        case accounts.SameName(people=people):
            fail(_same(people))
        case accounts.NoSuchPerson():
            fail("there is no such account")
        case accounts.NotWrittenSo(faults=faults):
            fail("\n".join(faults.values()))
        case Incomplete():
            fail("missing: name")


@account.command("take-authenticators")
@click.argument("login")
def take_authenticators(login: str) -> None:
    """Take away what a person gives beside the secret, because it is lost; they enrol another."""
    site = _site()
    match authenticators.take_away(site, now(), by=OPERATOR, person=_id_of(site, login)):
        case authenticators.TakenAway():
            click.echo(f"{login} has nothing enrolled any more")
        case authenticators.NothingEnrolled():
            fail("there is no such account, or it has nothing enrolled")


@account.command()
@click.argument("login")
def deactivate(login: str) -> None:
    """Deactivate an account; it is never deleted."""
    site = _site()
    match accounts.set_active(site, now(), by=OPERATOR, person=_id_of(site, login), active=False):
        case accounts.Changed():
            click.echo(f"{login} is deactivated")
        case accounts.NoSuchPerson():
            fail("there is no such account")


@account.command()
@click.argument("login")
@click.option("--for", "topic", required=True, help="What it was about, as the policy names it.")
@click.option("--on", "trained_on", required=True, help="The day: year-month-day.")
def trained(*, login: str, topic: str, trained_on: str) -> None:
    """Record that a person was trained, on a day, for a topic."""
    site = _site()
    person = _id_of(site, login)
    match training.record_training(
        site, now(), by=OPERATOR, new_id=new_id(), person=person, topic=topic, trained_on=trained_on
    ):
        case training.TrainingKept(training=kept):
            click.echo(f"{login} was trained in {topic.strip()} on {trained_on}: {kept}")
        case training.WrongTraining(faults=faults):
            fail("\n".join(faults.values()))
        case accounts.NoSuchPerson() | training.OwnTraining():
            fail("there is no such account")


@account.command()
@click.argument("number")
@click.option("--why", required=True, help="What was wrong with it.")
def withdraw_training(*, number: str, why: str) -> None:
    """Let a training that was recorded wrongly count no more; NUMBER stands in the list."""
    match training.withdraw_training(_site(), now(), by=OPERATOR, training=number, why=why):
        case training.Withdrawn():
            click.echo("it counts no more")
        case training.NoSuchTraining():
            fail("there is no such training that counts")
        case Incomplete():
            fail("missing: why")


@account.command(name="list")
@click.option("--unused", is_flag=True, help="Those alone that nobody has used for the site's time.")
def list_all(*, unused: bool) -> None:
    """Print every login as a line of JSON: roles, last use, training, and the statements accepted."""
    found = list_logins(_site(), now())
    if unused and found.after is None:
        fail("the site's policy names no time after which a login counts as not used")
    for each in found.unused if unused else found.listed:
        click.echo(json.dumps(login_line(each), ensure_ascii=False))


def _same(people: Iterable[Person]) -> str:
    listed = ", ".join(f"{each.printed_name} ({each.login}, {each.staff_number})" for each in people)
    return f"there is a login of this name: {listed}\nsay --another-person if this is another person"


def _site() -> Site:
    return open_site(settings())


def _id_of(site: Site, login: str) -> str:
    with site.store.read() as reader:
        person = reader.find_person_by_login(login)
    return person.id if person else ""
