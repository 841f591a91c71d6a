"""What was stopped, is held or away is handed over as it stands: nothing is started by it."""

import io
from collections.abc import Callable, Iterator
from datetime import timedelta

import pytest
from pypdf import PdfReader

from app.auditing.verifying_here import verify_here
from app.auditing.verifying_store import Wanted, verify_store
from app.records.course import Bar
from app.records.events import END_OF_THERAPY
from app.records.kept import FrozenRecord
from app.records.kinds import HANDOFF, HANDOFF_STANDING
from app.records.state import Phase
from app.records.store_verification import Began, Progress
from app.records.verification import Verification
from app.workflow import answering, holding_evidence, opening
from app.workflow import emergencies as hurry
from app.workflow.emergencies import Sealed
from app.workflow.issuing import Issued, issue_record
from app.workflow.looking import RecordSeen, see_record
from tests.factories.answers import answers, changed
from tests.story.people import IMOGEN, NADIA, PETRA, QUILL, RUTH, TOMAS
from tests.story.ward import Ward

TOTALS = {"total_amount": "1.6 mg", "presses": "9", "doses": "8", "left": "19.6 mL"}


@pytest.fixture
def running(one_ward: Ward) -> Ward:
    """Nadia answers for it, and it runs."""
    return one_ward.at_stage(Phase.STARTED).wait(timedelta(hours=4))


def hands_over(ward: Ward, **totals: str) -> Ward:
    """Nadia opens its handoff, and Imogen takes it."""
    opened = ward.opening_on(NADIA, HANDOFF_STANDING)
    assert isinstance(opened, opening.Opened), opened
    ward.check = opened.check
    ward.joins(IMOGEN)
    one = ward.of_its_patient(changed(answers(), totals=TOTALS))
    ward.reads(NADIA, one).reads(IMOGEN, changed(one, totals={**TOTALS, **totals}))
    return ward.compares()


def frozen(ward: Ward) -> FrozenRecord:
    seen = see_record(ward.site, ward.act(NADIA), ward.check)
    assert isinstance(seen, RecordSeen)
    return seen.frozen


def stopped(ward: Ward) -> None:
    ward.stops()


def held(ward: Ward) -> None:
    hurry.note_reversal(ward.site, ward.act(RUTH), ward.state().check.infusion)


def away(ward: Ward) -> None:
    hurry.note_away(ward.site, ward.act(RUTH), ward.state().check.infusion, what="mri")


def kept_as_evidence(ward: Ward) -> None:
    infusion = ward.state().check.infusion
    hurry.note_harm(ward.site, ward.act(RUTH), infusion, what="overdose")
    sealed = Sealed(seal="S-1", holder="Ruth", place="safe", read={**TOTALS, "total_volume": "none"})
    hurry.keep_evidence(ward.site, ward.act(RUTH), infusion, sealed)


def held_as_evidence(ward: Ward) -> None:
    kept_as_evidence(ward)
    infusion = ward.state().check.infusion
    said = holding_evidence.confirm_evidence(ward.site, ward.act(PETRA), infusion, seal="S-1")
    assert isinstance(said, hurry.Noted)


def ended(ward: Ward) -> None:
    ward.stops(why=END_OF_THERAPY)


def test_what_nobody_has_confirmed_to_hold_is_signed_as_open_and_holds_up_no_handoff(running: Ward) -> None:
    kept_as_evidence(running)
    hands_over(running)
    assert [each.code for each in running.state().findings if each.severity == "stop"] == [
        "account-not-received"
    ]
    for each in running.state().findings:
        if each.severity == "caution":
            running.acknowledges(NADIA, each.code).acknowledges(IMOGEN, each.code)
    running.signs(NADIA).signs(IMOGEN)
    assert running.phase is Phase.DONE


@pytest.mark.parametrize(
    ("stands", "state", "left"),
    [
        (stopped, "stopped", []),
        (held, "stopped", ["held"]),
        (away, "stopped", ["away"]),
        (held_as_evidence, "stopped", ["kept"]),
        (ended, "ended", []),
    ],
)
def test_with_both_signatures_the_next_nurse_answers_for_it_as_it_stands(
    running: Ward, stands: Callable[[Ward], None], state: str, left: list[str]
) -> None:
    stands(running)
    before = running.loaded().infusion
    hands_over(running)
    assert {each.severity for each in running.state().findings} <= {"note", "caution"}
    for each in running.state().findings:
        running.acknowledges(NADIA, each.code).acknowledges(IMOGEN, each.code)
    running.signs(NADIA).signs(IMOGEN)
    after = running.loaded().infusion
    assert (running.phase, after.responsible) == (Phase.DONE, IMOGEN.id)
    said = frozen(running).told["as_it_stands"]
    assert (said["state"], [each["what"] for each in said["left"]]) == (state, left)
    assert (said["answered"]["person"], said["answers"]["person"]) == (NADIA.id, IMOGEN.id)
    assert (after.is_running, after.emergencies, after.ended_at) == (
        False,
        before.emergencies,
        before.ended_at,
    )


def test_its_record_says_how_it_stood_on_paper_too_and_verifies_whatever_became_of_it(running: Ward) -> None:
    """In its file, where each part is bound to the rest, and in its store, where it is made again."""
    held(running)
    hurry.note_key(running.site, running.act(RUTH), infusion := running.state().check.infusion, what="key")
    kept_as_evidence(running)
    hands_over(running)
    for each in running.state().findings:
        running.acknowledges(NADIA, each.code).acknowledges(IMOGEN, each.code)
    running.signs(NADIA).signs(IMOGEN).wait(timedelta(minutes=5))
    hurry.change_lock(running.site, running.act(RUTH), infusion)
    hurry.release_evidence(running.site, running.act(QUILL), infusion)

    assert isinstance(issue_record(running.site, running.check, 1, running.now), Issued)
    with running.site.store.read() as reader:
        pdf = reader.find_pdf(running.check, 1)
    assert pdf is not None
    text = " ".join(
        " ".join(page.extract_text() for page in PdfReader(io.BytesIO(pdf.content)).pages).split()
    )
    for words in (
        "It stands, since",
        "Nadia Ferrow answered for the device, its lock and key, and whatever is kept;",
        "with both signatures Imogen Bexley does.",
        "Held: a reversal agent was given, written down by Ruth Calloway",
        "It starts again only once a prescriber has decided.",
        "Suspected overdose: kept as it is",
        "Number of the seal: S-1. Who holds device and syringe: Ruth. Where they are locked: safe.",
        "The key is not found",
    ):
        assert words in text, words
    said = verify_here(running.site, running.now, pdf.content)
    assert isinstance(said, Verification)
    assert [each for each in said.answers if each.holds is not True] == []
    steps = verify_store(running.site, running.now, Wanted(pages=True))
    assert isinstance(steps, Iterator)
    assert [each for each in steps if not isinstance(each, Began | Progress)] == []


def test_what_stands_counts_the_same_for_both(running: Ward) -> None:
    stopped(running)
    hands_over(running, presses="10")
    assert running.phase is Phase.DISPUTED
    assert [(each.code, each.field) for each in running.state().findings] == [
        ("readings-differ", "totals.presses")
    ]


def test_what_runs_is_handed_over_as_what_runs_and_what_stands_as_what_stands(running: Ward) -> None:
    assert running.opening_on(NADIA, HANDOFF_STANDING) == opening.Barred(bar=Bar.RUNS)
    stopped(running)
    assert running.opening_on(NADIA, HANDOFF) == opening.Barred(bar=Bar.NOT_RUNNING)
    another = running.opening_on(TOMAS, HANDOFF_STANDING)
    assert another == opening.AnotherAnswers(name=NADIA.printed_name)


def test_a_line_that_is_paused_is_handed_over_as_what_runs_and_the_record_says_so(running: Ward) -> None:
    running.pausing_line(NADIA)
    opened = running.opening_on(NADIA, HANDOFF)
    assert isinstance(opened, opening.Opened)
    running.check = opened.check
    running.joins(IMOGEN)
    read = running.of_its_patient(changed(answers(), totals=TOTALS))
    running.reads(NADIA, read).reads(IMOGEN, read).compares().signs(NADIA).signs(IMOGEN)
    assert frozen(running).told["as_it_stands"]["state"] == "paused"


def test_it_stands_among_what_the_nurse_answers_for(running: Ward) -> None:
    stopped(running)
    (mine,) = answering.my_infusions(running.site, running.act(NADIA)).mine
    assert (mine.infusion, mine.runs) == (running.state().check.infusion, False)
