"""What is proposed of a site's rules waits for another person, and is checked again when they approve it."""

from datetime import timedelta

from app.auditing.invariants import check_invariants
from app.people import Role
from app.records.kept import SOURCES
from app.records.rules import LIBRARY, OBSERVATIONS, PACKS, POLICY, STEPS
from app.records.state import Phase
from app.site.loading import load, rules_in_force
from app.workflow.accounts import NewPerson, TakenName, make_account
from app.workflow.proposing import (
    AlreadyDecided,
    Approved,
    ComparedWithAnother,
    FromThePast,
    NoSuchProposal,
    NothingNew,
    NotTheProposer,
    OnePerson,
    Proposed,
    Refused,
    TakesPlaceOf,
    Withdrawn,
    approve_proposal,
    refuse_proposal,
    withdraw_proposal,
)
from app.workflow.refusals import Incomplete, NotAllowed
from app.workflow.rule_files import RulesWrong
from tests.story.people import ADELE, NADIA, PETRA, QUILL
from tests.story.proposing import (
    SECOND_PHARMACIST,
    approves_it,
    draft_of,
    proposed,
    proposes,
    standing,
)
from tests.story.ward import Ward
from tests.support.together import together


def in_force(ward: Ward, what: str = POLICY) -> str:
    with ward.site.store.read() as reader:
        version: str = rules_in_force(reader, ward.now).content(what)["version"]
    return version


def test_what_is_proposed_waits_and_counts_once_another_approved_it(ward: Ward) -> None:
    proposal = proposed(ward, "policy-own", clearance_minutes=20)
    assert in_force(ward) == "policy-9"

    assert approves_it(ward, proposal) == Approved(version="policy-own", in_force_from=ward.now)
    assert in_force(ward) == "policy-own"
    with ward.site.store.read() as reader:
        kept, decided = reader.find_proposal(proposal), reader.find_decision(proposal)
        assert reader.waiting_proposals() == ()
    assert kept is not None
    assert decided is not None
    assert (kept.proposed_by, kept.why, decided.decided_by) == (PETRA.id, "the pharmacy asked", ADELE.id)


def test_who_may_propose_and_who_may_approve(one_ward: Ward) -> None:
    for who in (NADIA, QUILL, ADELE):
        assert proposes(one_ward, draft_of(one_ward, "policy-own", adult_age=19), who) == NotAllowed()
    policy = proposed(one_ward, "policy-own", adult_age=19)
    assert approves_it(one_ward, policy, SECOND_PHARMACIST) == NotAllowed()
    library = proposed(one_ward, "library-own", what=LIBRARY, note="another note")
    assert approves_it(one_ward, library, ADELE) == NotAllowed()
    assert approves_it(one_ward, library, PETRA) == OnePerson()
    assert isinstance(approves_it(one_ward, library, SECOND_PHARMACIST), Approved)
    assert isinstance(approves_it(one_ward, policy, ADELE), Approved)


def test_nobody_refuses_their_own_proposal(ward: Ward) -> None:
    proposal = proposed(ward, "policy-own", adult_age=19)
    both = PETRA.roles | {Role.ADMINISTRATOR}
    refused = refuse_proposal(ward.site, ward.wait().act(PETRA), both, proposal, why="a slip")
    assert refused == OnePerson()
    with ward.site.store.read() as reader:
        assert reader.find_decision(proposal) is None


def test_one_person_has_no_second_login_to_approve_with(one_ward: Ward) -> None:
    """The same staff number, however it is written, is taken."""
    again = NewPerson(
        login="p.varga.2",
        staff_number="dmPETRA",
        printed_name="Petra Vargas",
        roles=frozenset({Role.ADMINISTRATOR}),
        unit=PETRA.unit,
    )
    made = make_account(one_ward.site, one_ward.now, by=ADELE.id, new_id="petra-2", person=again)
    assert made == TakenName(constraint="staff_number_unique")


def test_a_refusal_has_a_reason_and_ends_it(one_ward: Ward) -> None:
    proposal = proposed(one_ward, "policy-own", adult_age=19)
    ask = (one_ward.site, one_ward.wait().act(ADELE), ADELE.roles, proposal)
    assert refuse_proposal(*ask, why=" ") == Incomplete(fields=("no",))
    assert refuse_proposal(*ask, why="eighteen is the law") == Refused()

    assert approves_it(one_ward, proposal) == AlreadyDecided(outcome="refused")
    assert in_force(one_ward) == "policy-9"
    assert approves_it(one_ward, "none") == NoSuchProposal()


def test_only_its_own_takes_a_proposal_back(one_ward: Ward) -> None:
    proposal = proposed(one_ward, "policy-own", adult_age=19)
    assert withdraw_proposal(one_ward.site, one_ward.wait().act(ADELE), proposal) == NotTheProposer()
    assert withdraw_proposal(one_ward.site, one_ward.wait().act(PETRA), proposal) == Withdrawn()
    again = withdraw_proposal(one_ward.site, one_ward.wait().act(PETRA), proposal)
    assert again == AlreadyDecided(outcome="withdrawn")


def test_of_two_proposals_at_once_the_second_is_to_be_compared_anew(ward: Ward) -> None:
    first = proposed(ward, "policy-first", adult_age=19)
    second = proposed(ward, "policy-second", clearance_minutes=20)
    assert isinstance(approves_it(ward, first), Approved)

    assert approves_it(ward, second) == ComparedWithAnother(version="policy-first")
    assert in_force(ward) == "policy-first"
    # Compared anew it keeps what the first one changed.
    anew = proposed(ward, "policy-third", clearance_minutes=20)
    assert isinstance(approves_it(ward, anew), Approved)
    assert (standing(ward)["adult_age"], standing(ward)["clearance_minutes"]) == (19, 20)


def test_what_was_right_when_proposed_is_checked_again_when_approved(one_ward: Ward) -> None:
    """Two give their version one name; the first to be approved keeps it."""
    tomorrow = one_ward.now + timedelta(days=1)
    first = proposed(one_ward, "policy-own", since=tomorrow, adult_age=19)
    second = proposed(one_ward, "policy-own", adult_age=20)
    assert isinstance(approves_it(one_ward, first), Approved)
    refused = approves_it(one_ward, second)
    assert isinstance(refused, RulesWrong)
    why = "policy-own stands already with another content: name another version"
    assert [each.why for each in refused.faults] == [why]


def test_what_no_check_could_be_judged_by_is_not_proposed(one_ward: Ward) -> None:
    limits = [{"field": "demand_dose", "hard_low": "4 mg", "hard_high": "3 mg"}]
    drugs = {"morphine": {"concentrations": ["1 mg/mL"], "limits": limits}}
    wrong = proposes(one_ward, draft_of(one_ward, "library-own", what=LIBRARY, drugs=drugs))
    assert isinstance(wrong, RulesWrong)
    assert wrong.faults[0].path == "drugs.morphine.limits.0"


def test_a_version_counts_from_its_time_on_and_the_last_approved_wins(ward: Ward) -> None:
    monday = ward.now + timedelta(days=2)
    for_monday = proposed(ward, "policy-monday", since=monday, adult_age=19)
    assert approves_it(ward, for_monday) == Approved(version="policy-monday", in_force_from=monday)
    assert in_force(ward) == "policy-9"
    # Proposed for a later day it follows the version of Monday, not today's.
    later = monday + timedelta(days=1)
    assert draft_of(ward, "policy-later", since=later).content["adult_age"] == 19
    # What is urgent is approved today, after it, and so it stays on Monday.
    now = proposed(ward, "policy-now", adult_age=20)
    assert approves_it(ward, now) == TakesPlaceOf(versions=("policy-monday",))
    assert isinstance(approves_it(ward, now, over=("policy-monday",)), Approved)
    assert in_force(ward) == "policy-now"
    ward.now = later
    assert in_force(ward) == "policy-now"


def test_what_waited_too_long_counts_from_its_approval_on(one_ward: Ward) -> None:
    soon = one_ward.now + timedelta(minutes=10)
    proposal = proposed(one_ward, "policy-own", since=soon, adult_age=19)
    one_ward.now += timedelta(days=1)
    assert approves_it(one_ward, proposal) == Approved(version="policy-own", in_force_from=one_ward.now)


def test_what_is_proposed_says_why_comes_later_and_changes_something(one_ward: Ward) -> None:
    draft = draft_of(one_ward, "policy-own", adult_age=19, why=" ")
    assert proposes(one_ward, draft) == Incomplete(fields=("why",))
    past = draft_of(one_ward, "policy-own", since=one_ward.now, adult_age=19)
    assert proposes(one_ward, past) == FromThePast()
    assert proposes(one_ward, draft_of(one_ward, "policy-9")) == NothingNew()


def test_invented_rules_are_not_proposed_where_rules_are_a_sites_own(one_ward: Ward) -> None:
    content = standing(one_ward, PACKS)
    del content["invented"], content["caution"]
    own = draft_of(one_ward, "packs-own", what=PACKS)
    done = proposes(one_ward, type(own)(**{**vars(own), "content": {**content, "version": "packs-own"}}))
    assert isinstance(done, Proposed)
    assert isinstance(approves_it(one_ward, done.proposal), Approved)

    invented = draft_of(one_ward, "packs-again", what=PACKS, invented=True, caution="Invented.")
    refused = proposes(one_ward, invented)
    assert isinstance(refused, RulesWrong)
    assert [each.why for each in refused.faults] == ["invented rules never take the place of a site's own"]


def test_a_check_keeps_all_the_versions_that_it_was_opened_with(ward: Ward) -> None:
    """Opened before and signed after, whatever of the rules is changed meanwhile."""
    ward.at_stage(Phase.READING)
    before = {what: in_force(ward, what) for what in (POLICY, LIBRARY, STEPS, PACKS, OBSERVATIONS)}
    for what in before:
        changes = {"clearance_minutes": 30} if what == POLICY else {"note": "another note"}
        proposal = proposed(ward, f"{what}-own", what=what, **changes)
        assert isinstance(
            approves_it(ward, proposal, SECOND_PHARMACIST if what == LIBRARY else ADELE), Approved
        )
    ward.both_read().compares().confirms_all().both_sign()

    with ward.site.store.read() as reader:
        loaded = load(reader, ward.check, ward.now)
        assert loaded is not None
        (record,) = reader.frozen_records(ward.check)
    assert next(each.opened["versions"] for each in loaded.comparisons if each.subject == SOURCES) == {
        what: before[what] for what in (POLICY, LIBRARY, PACKS)
    }
    assert loaded.policy.clearance == timedelta(minutes=15)
    assert record.told["safety_steps"]["version"] == before[STEPS]
    assert record.told["versions"]["observations"] == before[OBSERVATIONS]
    assert check_invariants(ward.site, ward.now) == ()
    # The next one is opened with the new ones.
    ward.at_stage(Phase.READING)
    with ward.site.store.read() as reader:
        after = load(reader, ward.check, ward.now)
    assert after is not None
    assert after.policy.clearance == timedelta(minutes=30)


def test_of_many_who_decide_at_the_same_instant_one_does(ward: Ward) -> None:
    proposal = proposed(ward, "policy-own", adult_age=19)
    acts = [ward.act(ADELE) for _ in range(4)]
    said = together(
        *(lambda act=act: approve_proposal(ward.site, act, ADELE.roles, proposal) for act in acts[:3]),
        lambda: refuse_proposal(ward.site, acts[3], ADELE.roles, proposal, why="not now"),
    )
    done = [each for each in said if not isinstance(each, AlreadyDecided)]
    assert len(done) == 1
    with ward.site.store.read() as reader:
        published = len(reader.versions(POLICY)) - 1
        assert (reader.find_decision(proposal) is not None, published) == (
            True,
            isinstance(done[0], Approved),
        )


def test_of_two_proposals_approved_at_the_same_instant_one_is_to_be_compared_anew(ward: Ward) -> None:
    proposals = [proposed(ward, f"policy-{at}", adult_age=18 + at) for at in (1, 2)]
    acts = [ward.act(ADELE) for _ in proposals]
    said = together(
        *(
            lambda act=act, each=each: approve_proposal(ward.site, act, ADELE.roles, each)
            for act, each in zip(acts, proposals, strict=True)
        )
    )
    assert sorted(type(each).__name__ for each in said) == ["Approved", "ComparedWithAnother"]
