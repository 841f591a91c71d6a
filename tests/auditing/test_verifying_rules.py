"""A version of the site's rules that no two people brought into force is found and named by both commands."""

import json
from collections.abc import Iterator
from dataclasses import replace
from datetime import datetime, timedelta

import pytest

from app.auditing.invariants import check_invariants
from app.auditing.verifying_store import Wanted, verify_store
from app.people import Role
from app.records.canonical import canonical, digest
from app.records.events import Event
from app.records.kept import Entry, SiteData
from app.records.rules import LIBRARY, POLICY
from app.records.site_events import InstallationFounded, ProposalApproved, RulesProposed, SiteDataPublished
from app.records.store_verification import Failing
from app.site.approving import unapproved
from tests.story.proposing import approves_it, proposed, standing
from tests.story.ward import Ward, open_ward

AT = datetime.fromisoformat("2031-05-02T08:00:00+00:00")
MINUTE = timedelta(minutes=1)
PHARMACIST, ADMINISTRATOR = (Role.PHARMACIST.value,), (Role.ADMINISTRATOR.value,)


def entry(event: Event, by: str = "", at: datetime = AT) -> Entry:
    return Entry(
        position=1,
        at=at,
        by=by,
        infusion="",
        check="",
        session="",
        device="",
        signed_in_at=None,
        event=event,
        canonical=b"",
    )


def published(*, what: str = POLICY, number: int = 2, since: datetime = AT + MINUTE) -> SiteDataPublished:
    return SiteDataPublished(
        what=what, version="own", digest="d", number=number, in_force_from=since.isoformat()
    )


def proposal(what: str = POLICY, roles: tuple[str, ...] = PHARMACIST, since: str = "") -> RulesProposed:
    return RulesProposed(
        proposal="p",
        what=what,
        version="own",
        digest="d",
        against="",
        why="x",
        in_force_from=since,
        roles=roles,
    )


def approval(roles: tuple[str, ...] = ADMINISTRATOR) -> ProposalApproved:
    return ProposalApproved(proposal="p", proposed_by="petra", roles=roles)


FOUNDED = entry(InstallationFounded(installation="i", attestation="a"))
PROPOSED, APPROVED = entry(proposal(), "petra"), entry(approval(), "adele", AT + MINUTE)
PUBLISHED = entry(published(), "adele", AT + MINUTE)
OF_LIBRARY = entry(proposal(LIBRARY), "petra"), entry(published(what=LIBRARY), "quill")


def found(entries: tuple[Entry, ...], what: str = POLICY) -> list[str]:
    return [each.why for each in unapproved(entries, [(what, "own")])]


@pytest.mark.parametrize(
    ("entries", "why"),
    [
        ((FOUNDED, PROPOSED, APPROVED, PUBLISHED), []),
        ((FOUNDED, entry(published(number=1, since=AT))), []),
        ((FOUNDED,), ["the log tells nothing of it"]),
        ((FOUNDED, PUBLISHED), ["nobody approved it"]),
        ((FOUNDED, PROPOSED, PUBLISHED), ["nobody approved it"]),
        ((FOUNDED, APPROVED, PUBLISHED), ["nobody approved it"]),
        # What came after the installation was approved, though it is the first of its document.
        ((FOUNDED, entry(published(number=1), at=AT + MINUTE)), ["nobody approved it"]),
        ((FOUNDED, entry(published(number=1, since=AT), "adele")), ["nobody approved it"]),
        ((FOUNDED, PROPOSED, replace(APPROVED, by="petra"), PUBLISHED), ["whoever proposed it approved it"]),
        (
            (FOUNDED, entry(proposal(roles=ADMINISTRATOR), "petra"), APPROVED, PUBLISHED),
            ["whoever proposed it was no pharmacist"],
        ),
        (
            (FOUNDED, PROPOSED, entry(approval(PHARMACIST), "adele"), PUBLISHED),
            ["whoever approved it was no administrator"],
        ),
        (
            (FOUNDED, PROPOSED, APPROVED, entry(published(since=AT), "adele")),
            ["it counts from earlier than was approved"],
        ),
        (
            (FOUNDED, entry(proposal(since="2031-06-01T08:00:00+00:00"), "petra"), APPROVED, PUBLISHED),
            ["it counts from earlier than was approved"],
        ),
        (
            (FOUNDED, PROPOSED, APPROVED, entry(replace(published(), digest="other"), "adele")),
            ["nobody approved it"],
        ),
    ],
)
def test_a_version_counts_only_as_one_proposed_and_another_approved_it(
    entries: tuple[Entry, ...], why: list[str]
) -> None:
    assert found(entries) == why


@pytest.mark.parametrize(
    ("roles", "why"), [(PHARMACIST, []), (ADMINISTRATOR, ["whoever approved it was no pharmacist"])]
)
def test_a_drug_library_takes_two_pharmacists(roles: tuple[str, ...], why: list[str]) -> None:
    one, last = OF_LIBRARY
    assert found((FOUNDED, one, entry(approval(roles), "quill"), last), LIBRARY) == why


@pytest.fixture
def ward(sqlite_url: str) -> Iterator[Ward]:
    with open_ward(sqlite_url) as made:
        yield made


def named(ward: Ward) -> set[str]:
    """What both commands say of the rules; each says the same."""
    steps = verify_store(ward.site, ward.now, Wanted(pages=False))
    assert isinstance(steps, Iterator)
    found = {each.what for each in steps if isinstance(each, Failing) and each.about == "site_data"}
    assert {f"site_data: {each}" for each in found} <= {
        each.what for each in check_invariants(ward.site, ward.now)
    }
    return found


def test_what_somebody_put_into_the_database_alone_is_named(ward: Ward) -> None:
    approves_it(ward, proposed(ward, "policy-two", clearance_minutes=20))
    assert named(ward) == set()

    content = canonical({**standing(ward), "version": "policy-nobody", "clearance_minutes": 60})
    made = SiteData(
        what=POLICY,
        version=json.loads(content)["version"],
        content=content,
        digest=digest(content),
        in_force_from=ward.now,
        number=3,
    )
    with ward.site.store.write() as tx:
        tx.publish(made)
    assert "policy, version policy-nobody: the log tells nothing of it" in named(ward)

    told = {name: value for name, value in vars(made).items() if name != "content"}
    with ward.site.store.write() as tx:
        event = SiteDataPublished(**{**told, "in_force_from": ward.now.isoformat()})
        tx.append(event, at=ward.now)
    assert named(ward) == {"policy, version policy-nobody: nobody approved it"}
