"""The pages of an end of PCA: opened from the list, what was left goes before a witness, and it is signed."""

from fractions import Fraction

import pytest

from app.judging.in_hand import InHand
from app.records.state import Phase
from app.words.emergencies import KEPT_AS_EVIDENCE
from app.workflow import emergencies, taking_back
from app.workflow.sweeping import sweep_once
from tests.factories.answers import answers, changed
from tests.story.pages import Pair, pair_of
from tests.support.browser import words_of
from tests.support.world import World

FINAL = {"total_amount": "2.6 mg", "presses": "15", "doses": "13", "left": "14.6 mL"}
READ = changed(answers(), totals=FINAL)
LEFT = {"in_syringe": "14.6", "lot": "LOT-7"}
OFF = "ended-off-the-patient"
OTHERS = tuple(
    InHand(name=name, drug="HYDROmorphone", lot="LOT-8", at_most=Fraction(20), is_on=False) for name in "23"
)


@pytest.fixture
def started(world: World) -> Pair:
    """It runs."""
    return pair_of(world).at_stage(Phase.STARTED)


@pytest.fixture
def ending(started: Pair) -> Pair:
    """Both have read, and it is off the patient."""
    pair = started
    pair.world.clock.pass_(hours=26)
    for browser, login in zip(pair.both, pair.logins, strict=True):
        pair.world.sign_in(browser, login)
    pair.ends()
    pair.read(READ)
    pair.tick(pair.first, "I did")
    pair.tick(pair.second, "verified what is ticked")
    return pair


def test_it_is_opened_from_the_line_of_what_runs_and_of_what_has_ended(started: Pair) -> None:
    started.first.get("/")
    page = started.first.follow("Check or change")
    assert "Open an end of PCA" in [each.words for form in page.forms() for each in form.buttons]
    started.page(started.first, "/stop")
    started.first.press("Stopped", why="end-of-therapy")
    page = started.first.get("/")
    assert "account open" in page.text
    buttons = [each.words for form in page.forms() for each in form.buttons]
    assert "End of PCA" in buttons
    assert "Re-check" not in buttons


def test_its_way_through_the_pages_to_a_sealed_record(ending: Pair) -> None:
    page = ending.page(ending.first, "/steps")
    assert "Read what is left, with a witness" in page.text
    page = ending.read_drug(given=LEFT)
    assert page.heading == "The witness reads"
    page = ending.witness_drug({**LEFT, "login": "i.bexley", "secret": ending.world.secrets["i.bexley"]})
    said = words_of(page.with_id("main"))
    assert "14.6 mL left in the syringe: wasted, witnessed by Imogen Bexley. Lot LOT-7." in said
    ending.tick(ending.second, "verified what is ticked")
    assert ending.state.steps_complete
    assert "14.6 mL left in the syringe" in ending.page(ending.first, "/sign").text
    ending.sign()
    assert ending.phase() is Phase.DONE
    assert "account open" not in ending.first.get("/").text
    # The page of what was started sends nobody to a check that has been.
    ending.first.get(f"/infusion/{ending.state.check.infusion}")
    page = ending.first.follow("Set-up")
    assert "PCA has ended here, and two have signed its end." in page.text
    assert "End of PCA is opened" not in page.text
    sweep_once(ending.world.site, ending.world.clock.now, holder="test")
    page = ending.page(ending.first, "/record")
    assert "14.6 mL left in the syringe: wasted, witnessed by Imogen Bexley." in page.text


def test_the_witness_is_shown_the_same_whatever_was_read_first(ending: Pair) -> None:
    pages = []
    for volume in ("14.6", "2.3719"):
        page = ending.read_drug(given={**LEFT, "in_syringe": volume})
        assert volume not in page.body
        pages.append(words_of(page.with_id("main")))
    (one, other) = (page.partition(" Here, until")[0] for page in pages)
    assert one == other
    assert len(pages[0]) == len(pages[1])


def test_where_all_is_kept_as_evidence_the_page_says_so_before_anybody_reads_it(ending: Pair) -> None:
    infusion, act = ending.state.check.infusion, ending.act(ending.world.at("r.calloway"))
    emergencies.note_harm(ending.world.site, act, infusion, what="overdose")
    assert KEPT_AS_EVIDENCE in ending.page(ending.first, "/taken-back").text
    sealed = emergencies.Sealed(seal="7701", read=FINAL)
    emergencies.keep_evidence(ending.world.site, act, infusion, sealed)
    page = ending.page(ending.first, "/taken-back")
    assert KEPT_AS_EVIDENCE not in page.text
    assert (
        "All that was left is kept as evidence, in the syringe of lot LOT-7: nothing of it goes." in page.text
    )
    witness = ending.read_drug(given={**LEFT, "in_syringe": "0"})
    assert "Nothing goes: I know that it is kept as evidence" in witness.text


def test_two_volumes_that_do_not_agree_are_read_again_and_neither_is_shown(ending: Pair) -> None:
    witness = {"login": "i.bexley", "secret": ending.world.secrets["i.bexley"]}
    ending.read_drug(given=LEFT)
    page = ending.witness_drug({"in_syringe": "12.3719", **witness})
    assert page.status == 409
    assert "Both of you read once more, each alone" in page.text
    assert not {"14.6", "12.3719"} & {*page.text.split()}
    held = dict(page.form_with("Now the witness reads")[0].held)
    assert (held["lot"], held["way"], held["in_syringe"]) == ("LOT-7", "wasted", "")
    ending.read_drug(given=LEFT)
    page = ending.witness_drug({"in_syringe": "12.3719", **witness})
    said = words_of(page.with_id("main"))
    assert "NOT WITNESSED: Imogen Bexley saw it, and the two do not agree how much it was" in said


def test_where_nobody_comes_it_is_written_as_not_witnessed(ending: Pair) -> None:
    ending.read_drug(given=LEFT)
    page = ending.first.press("not witnessed")
    assert "NOT WITNESSED: nobody else saw it" in words_of(page.with_id("main"))


def test_what_makes_no_sense_is_said_beside_its_field(ending: Pair) -> None:
    page = ending.read_drug(given={**LEFT, "in_syringe": "29"})
    assert page.status == 422
    assert 'href="#field-in_syringe"' in page.body
    assert "more than both of you read as left" in page.text
    assert 'value="29"' in page.body
    page = ending.read_drug(given={**LEFT, "lot": "LOT-8"})
    assert 'href="#field-lot"' in page.body


def test_a_syringe_that_is_still_in_hand_is_asked_for_on_the_same_page(
    ending: Pair, monkeypatch: pytest.MonkeyPatch
) -> None:
    witness = {"login": "i.bexley", "secret": ending.world.secrets["i.bexley"]}
    # As after a syringe change, which is walked through in the workflow's own tests.
    ending.read_drug(given=LEFT)
    monkeypatch.setattr(taking_back, "in_hand_at_the_end", lambda _reader, _loaded: OTHERS)
    page = ending.witness_drug({**LEFT, **witness})
    assert page.heading == "What was left"
    assert "Another syringe of this infusion is still in hand" in page.text
    # Of one lot: it is said which.
    assert "Syringe 3, taken off before" in page.text
    assert "Read what is left, with a witness" in ending.page(ending.first, "/steps").text
