"""A check with everything in it, and a whole database in which every table has rows."""

from dataclasses import dataclass
from datetime import timedelta

from app.auditing.access_digest import SETTLES, digest_accesses
from app.auditing.checkpointing import HistoryChanged, make_checkpoint
from app.base import Act
from app.keys import load_site_keys, new_id
from app.people import Role
from app.records.checkpoint import Checkpoint
from app.records.kept import SOURCES
from app.records.state import Phase
from app.workflow.accounts import AccountMade, NewPerson, make_account, reset_account, set_active
from app.workflow.asked_first import Accepted, accept_statement, policy_here
from app.workflow.authenticators import Enrolled
from app.workflow.credentials import Where, try_credential
from app.workflow.following import tell_what_followed
from app.workflow.issuing import Issued, issue_record
from app.workflow.key_looking import read_resets, see_resets
from app.workflow.looking import Seen, see_check
from app.workflow.order_senders import revoke_sender
from app.workflow.proposing import Approved, Withdrawn, withdraw_proposal
from app.workflow.reading import say_danger
from app.workflow.receiving_orders import OrderTaken
from app.workflow.refused_signings import read_refused, see_refused
from app.workflow.reviewing import Answer, Done, Place, assign, classify
from app.workflow.sessions import SignedIn
from app.workflow.signing_in import sign_in
from app.workflow.training import record_training, withdraw_training
from app.workflow.units import UnitRenamed, rename_unit
from tests.factories.orders import as_both_read
from tests.story.app_acts import enrols
from tests.story.orders import let_in, sends
from tests.story.people import ADELE, IMOGEN, INES, NADIA, PETRA, QUILL, RALPH, RUTH, TOMAS
from tests.story.proposing import approves_it, proposed
from tests.story.script import Read
from tests.story.trained import signed_record
from tests.story.ward import Ward
from tests.support.policies import publish_policy


def whole_life(ward: Ward) -> Ward:
    """Differing readings, help, a voided round, two editions, a start; and other checks beside it."""
    ward.at_stage(Phase.READING)
    say_danger(ward.site, ward.act(NADIA), ward.check, why="wrong-syringe")
    ward.both_read().compares().confirms_all().both_sign()
    issue_record(ward.site, ward.check, 1, ward.wait().now)
    ward.looks(TOMAS, same=False).reads_again(NADIA, "device").both_read().compares()
    ward.asks_for_help().takes_help(RUTH).settles_help("other")
    ward.confirms_all().both_sign().looks(NADIA).looks(TOMAS).starts()
    issue_record(ward.site, ward.check, 2, ward.wait().now)
    assert isinstance(tell_what_followed(ward.site, ward.check, 1, ward.wait().now), Issued)
    return ward


@dataclass(frozen=True, kw_only=True)
class Kept:
    """What was noted down while the database filled: two checks, and checkpoints of the log."""

    first: str
    second: str
    before: Checkpoint
    last: Checkpoint


def fill_every_table(ward: Ward) -> Kept:
    """Two checks with records and one given up; accounts made, reset, with an app; looks; a kept checkpoint.

    After the kept checkpoint the log goes on by two acts; `last` is of the whole and was kept elsewhere.
    """
    first = whole_life(ward).check
    second = ward.at_stage(Phase.CLEARED).check
    assert isinstance(issue_record(ward.site, second, 1, ward.wait().now), Issued)
    ward.at_stage(Phase.DISPUTED).reads_again().both_hand_in(Read.TO_CONSIDER).compares().abandons()
    place = Place(check=ward.check, subject=SOURCES, round=1, number=1)
    act = ward.wait().act(QUILL)
    assert assign(ward.site, act, QUILL.roles, place, to=RUTH.id, text="please look") == Done()
    answer = Answer(category="B", readers="A", factors=("hurry",), text="misread")
    assert classify(ward.site, ward.wait().act(QUILL), QUILL.roles, place, answer=answer) == Done()
    assert isinstance(see_check(ward.site, ward.act(QUILL), first), Seen)
    called = {"unit": "recovery", "name": "Recovery, theatres"}
    assert isinstance(rename_unit(ward.site, ward.now, by=ADELE.id, **called), UnitRenamed)
    newcomer = NewPerson(
        login="p.marsh",
        staff_number="DM-3300",
        printed_name="Pia Marsh",
        roles=frozenset({Role.NURSE}),
        unit=INES.unit,
    )
    made = make_account(ward.site, ward.wait().now, by=ADELE.id, new_id="pia", person=newcomer)
    assert isinstance(made, AccountMade)
    reset_account(ward.site, ward.wait().now, by=ADELE.id, person=IMOGEN.id)
    assert see_resets(ward.site, ward.act(RUTH))
    read_resets(ward.site, ward.act(RUTH), until=ward.now)
    assert enrols(ward, NADIA)[0] == Enrolled()
    _about_people(ward)
    _about_rules(ward)
    _about_orders(ward)
    signed_record(ward)
    ward.now += SETTLES
    assert digest_accesses(ward.site, ward.wait().now)
    before = _checkpoint(ward)
    set_active(ward.site, ward.wait().now, by=ADELE.id, person=RALPH.id, active=False)
    set_active(ward.site, ward.wait().now, by=ADELE.id, person=RALPH.id, active=True)
    return Kept(first=first, second=second, before=before, last=signed_now(ward))


def _about_orders(ward: Ward) -> None:
    """Two that may send orders, one of them no more, and an order of a patient who has no check."""
    token = let_in(ward.site, ward.wait().now)
    assert sends(ward.site, ward.wait().now, token, as_both_read("DM-99999")) == OrderTaken()
    let_in(ward.site, ward.wait().now, "Orders of before")
    revoke_sender(ward.site, ward.wait().now, by=ADELE.id, name="Orders of before")


def _about_people(ward: Ward) -> None:
    """A training that counts, one withdrawn, a statement accepted, refused signings that were read of."""
    publish_policy(
        ward.site,
        ward.wait().now,
        accountability={"version": "1", "text": ["What I sign binds me."]},
        refused_signings={"count": 2, "within_minutes": 30},
    )
    for number in ("training-1", "training-2"):
        record_training(
            ward.site,
            ward.wait().now,
            by=ADELE.id,
            new_id=number,
            person=NADIA.id,
            topic="the tool",
            trained_on="2031-05-01",
        )
    withdraw_training(ward.site, ward.wait().now, by=ADELE.id, training="training-1", why="another person")
    begun = sign_in(
        ward.site, ward.wait().now, login=QUILL.login, secret=QUILL.secret, device="tablet 9", unit=QUILL.unit
    )
    assert isinstance(begun, SignedIn)
    act = Act(now=ward.wait().now, by=begun.actor, new_id=new_id)
    digest = statement_digest(ward)
    assert accept_statement(ward.site, act, digest=digest) == Accepted()
    for _ in range(2):
        where = Where(signed_in=QUILL.id)
        try_credential(
            ward.site, ward.wait().now, login=NADIA.login, secret="no", what="signing", where=where
        )
    assert see_refused(ward.site, ward.act(RUTH))
    read_refused(ward.site, ward.act(RUTH), until=ward.now)


def _about_rules(ward: Ward) -> None:
    """A version approved for tomorrow, one withdrawn, and one that waits."""
    tomorrow = ward.now + timedelta(days=1)
    approved = approves_it(ward, proposed(ward, "policy-next", since=tomorrow, adult_age=19))
    assert isinstance(approved, Approved)
    taken_back = proposed(ward, "policy-never", adult_age=20)
    assert withdraw_proposal(ward.site, ward.wait().act(PETRA), taken_back) == Withdrawn()
    proposed(ward, "policy-after", since=tomorrow + timedelta(days=1), adult_age=21)


def statement_digest(ward: Ward) -> str:
    """The digest of the statement in force."""
    with ward.site.store.read() as reader:
        policy = policy_here(reader, ward.now)
    assert policy is not None
    assert policy.accountability is not None
    return policy.accountability.digest


def signed_now(ward: Ward) -> Checkpoint:
    """A checkpoint of the whole log, which only leaves the site."""
    keys = load_site_keys(ward.site.site_keys, ward.now)
    with ward.site.store.read() as reader:
        size = reader.head()
        root = ward.site.tree.find_root(reader, size)
    assert root is not None
    return keys.sign_checkpoint(size=size, root=root, at=ward.now)


def _checkpoint(ward: Ward) -> Checkpoint:
    made = make_checkpoint(ward.site, load_site_keys(ward.site.site_keys, ward.now), ward.wait().now)
    assert not isinstance(made, HistoryChanged)
    return made


def move_clock_back(ward: Ward, hours: int) -> None:
    """Somebody sets the clock back, and something happens."""
    ward.now -= timedelta(hours=hours)
    ward.signs_in(NADIA)
    ward.opens(NADIA)
