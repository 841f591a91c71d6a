"""`countersign rules list`, `propose`, `replay`, `approve`: what waits, and what two people do about it."""

import json
from collections.abc import Iterator, Mapping
from datetime import datetime
from pathlib import Path
from typing import Any, NoReturn
from zoneinfo import ZoneInfo

import click

from app.base import OPERATOR, Act, Actor, Method
from app.cli.asked import ask_who
from app.cli.days import MOMENT
from app.cli.installation import fail, now, open_site, settings
from app.cli.rules import OVER, read, refuse, standing, takes_place
from app.keys import new_id
from app.records.rules import POLICY
from app.site.installation import Site
from app.web.models.rules import came_by, rules_tried, waits_for
from app.words.rules import DOCUMENTS
from app.workflow.proposing import (
    AlreadyDecided,
    Approved,
    ComparedWithAnother,
    FromThePast,
    NoSuchProposal,
    NotDecided,
    NotThisOne,
    OnePerson,
    TakesPlaceOf,
)
from app.workflow.publishing import (
    NotKnown,
    NotProposedHere,
    NotTheirs,
    approve_here,
    propose_here,
    rule_faults,
)
from app.workflow.refusals import NotAllowed, TooManyTries, WrongCredential
from app.workflow.replaying import Replayed
from app.workflow.replaying_apart import AnotherRuns, TookTooLong, Trial, replay_apart
from app.workflow.rule_files import RulesWrong
from app.workflow.rules_seen import (
    Compared,
    DocumentSeen,
    ProposalSeen,
    compare_document,
    see_documents,
    see_proposal,
)


@click.command("list")
def list_rules() -> None:
    """Print of each document what is in force, what comes later, and what waits for another person."""
    site = open_site(settings())
    published, _ = standing(site, now())
    zone = ZoneInfo(published[POLICY]["zone"] if POLICY in published else "UTC")
    for seen in see_documents(site, now()):
        click.echo(DOCUMENTS[seen.what])
        for line in _listed(seen, zone):
            click.echo(f"  {line}")


@click.command()
@click.argument("folder", type=click.Path(exists=True, file_okay=False, path_type=Path))
@click.option("--why", required=True, help="The reason, for the next person and whoever asks later.")
@click.option("--from", "since", type=MOMENT, help="Not from its approval on but from then.")
def propose(folder: Path, why: str, since: datetime | None) -> None:
    """Propose whatever is new in FOLDER: each document waits for another person.

    A pharmacist answers for it: id and secret are asked for, or read from the standard input, two lines.
    """
    site = open_site(settings())
    files = read(folder)
    faults = rule_faults(site, now(), files, since=since)
    if faults:
        refuse(RulesWrong(faults=faults))
    who = ask_who("whoever proposes these rules")
    done = propose_here(site, now(), files, who, why=why, since=since)
    if not isinstance(done, tuple):
        _not_proposed(done)
    for each in done:
        click.echo(f"{each.version} waits for {waits_for(each.what)}: proposal {each.id}")
    if not done:
        click.echo("nothing is new")


@click.command()
@click.argument("what", metavar="FOLDER|PROPOSAL")
def replay(what: str) -> None:
    """Try what is new in FOLDER, or a PROPOSAL, on the last checks that have ended; nothing is written.

    They are judged again by the rules in force and with each new document in place of its own.
    """
    site = open_site(settings())
    for seen, content, compared in _to_try(site, what):
        if isinstance(compared.why_not, RulesWrong):
            refuse(compared.why_not)
        trial = Trial(what=seen, content=content, since=compared.since)
        click.echo(f"{DOCUMENTS[seen]}: {content['version']} in place of {compared.follows or 'nothing'}")
        for line in _tried(replay_apart(site, _at_the_host(), frozenset(), trial)):
            click.echo(f"  {line}")


@click.command()
@click.argument("proposal")
@OVER
def approve(proposal: str, over: tuple[str, ...]) -> None:
    """Approve a PROPOSAL of somebody else, as `countersign rules list` names it, after looking what changes.

    An administrator answers for it, or for a drug library another pharmacist: id and secret are asked for,
    or read from the standard input, two lines.
    """
    site = open_site(settings())
    _, compared = _waiting(site, proposal)
    for each in compared.changes:
        click.echo(each.says)
    if not compared.changes:
        click.echo("no value differs")
    who = ask_who("whoever approves it")
    done = approve_here(site, now(), proposal, who, over=over)
    if not isinstance(done, Approved):
        _not_approved(done, who.login)
    click.echo(f"in force from {done.in_force_from:%Y-%m-%d %H:%M%z} on: {done.version}")


def _listed(seen: DocumentSeen, zone: ZoneInfo) -> Iterator[str]:
    if seen.in_force is None:
        yield "nothing is in force"
    else:
        its = seen.in_force
        invented, since = ", invented" if its.is_invented else "", _moment(its.data.in_force_from, zone)
        yield f"{its.version}{invented}: in force since {since}, {came_by(its)}"
    for each in seen.later:
        if each.never:
            yield f"{each.version}: never comes into force, one approved after it takes its place"
        else:
            yield f"{each.version}: from {_moment(each.data.in_force_from, zone)}, {came_by(each)}"
    for one in seen.waiting:
        its_time = one.proposal.in_force_from
        since = f", from {_moment(its_time, zone)}" if its_time else ""
        yield (
            f"{one.proposal.version}{since}: proposal {one.proposal.id} of {one.proposed_by}, "
            f"{_moment(one.proposal.proposed_at, zone)}, waits for {waits_for(seen.what)}: {one.proposal.why}"
        )


def _moment(at: datetime, zone: ZoneInfo) -> str:
    return f"{at.astimezone(zone):%Y-%m-%d %H:%M%z}"


def _to_try(site: Site, what: str) -> Iterator[tuple[str, Mapping[str, Any], Compared]]:
    """Each document to be tried, and what it would change."""
    if not Path(what).is_dir():
        seen, compared = _waiting(site, what)
        yield seen.proposal.what, json.loads(seen.proposal.content), compared
        return
    files = read(Path(what))
    faults = rule_faults(site, now(), files)
    if faults:
        refuse(RulesWrong(faults=faults))
    found = 0
    for name, content in files.published.items():
        compared = compare_document(site, now(), name, content, since=None)
        if compared.why_not is None:
            found += 1
            yield name, content, compared
    if not found:
        click.echo("nothing is new")


def _waiting(site: Site, proposal: str) -> tuple[ProposalSeen, Compared]:
    found = see_proposal(site, now(), proposal)
    if found is None:
        _none_such(proposal)
    return found


def _none_such(proposal: str) -> NoReturn:
    said = "".join(sign if sign.isprintable() else "\N{REPLACEMENT CHARACTER}" for sign in proposal)
    fail(f"there is no proposal {said}: `countersign rules list` names those that wait")


def _tried(found: Replayed | AnotherRuns | TookTooLong) -> Iterator[str]:
    match found:
        case AnotherRuns():
            fail("another trial runs now: try again in a minute")
        case TookTooLong():
            fail("the trial took too long, and nothing came of it: try again later")
        case Replayed(asked=0):
            yield "no check has ended yet, so there is nothing to try it on"
        case Replayed():
            back = f", back to {found.first_at:%Y-%m-%d}" if found.first_at else ""
            yield (
                f"tried on {found.checks} of {found.asked} ended checks{back}: {found.stopped_too} would be "
                f"stopped that are not by what it follows, {found.not_stopped} would not be that are"
            )
            for each in rules_tried(found):
                yield f"{each.severity}: {each.words}: {each.new} new, {each.gone} no longer ({each.units})"


def _at_the_host() -> Act:
    at = now()
    by = Actor(person=OPERATOR, session="", device="", signed_in_at=at, unit="", method=Method.SECRET)
    return Act(now=at, by=by, new_id=new_id)


def _not_proposed(refusal: NotProposedHere) -> NoReturn:
    match refusal:
        case RulesWrong():
            refuse(refusal)
        case NotTheirs(login=login, may=what):
            fail(f"{login} may not {what}; nothing was proposed")
        case FromThePast():
            fail("nothing comes into force before now; nothing was proposed")
        case WrongCredential() | TooManyTries():
            _not_known(refusal, "nothing was proposed")


def _not_approved(refusal: NotDecided | NotThisOne | NotKnown, login: str) -> NoReturn:
    nothing = "nothing was approved"
    match refusal:
        case RulesWrong():
            refuse(refusal)
        case TakesPlaceOf(versions=versions):
            fail(takes_place(versions))
        case ComparedWithAnother(version=version):
            fail(f"it was compared with another version than {version}, which it would now follow; {nothing}")
        case WrongCredential() | TooManyTries():
            _not_known(refusal, nothing)
        case _:
            fail(f"{_not_decided(refusal, login)}; {nothing}")


def _not_decided(refusal: NotDecided, login: str) -> str:
    match refusal:
        case NoSuchProposal():
            return "there is no such proposal"
        case AlreadyDecided(outcome=outcome):
            return f"it is {outcome} already"
        case OnePerson():
            return "whoever proposed it does not approve it"
        case NotAllowed():
            whom = "it takes an administrator, for a drug library a second pharmacist"
            return f"{login} may not approve it: {whom}"


def _not_known(refusal: NotKnown, nothing: str) -> NoReturn:
    match refusal:
        case WrongCredential():
            fail(f"id and secret do not belong together; {nothing}")
        case TooManyTries(seconds=seconds):
            fail(f"too many tries; wait {seconds} s")
