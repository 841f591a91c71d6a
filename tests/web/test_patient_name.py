"""The patient's name: read if one likes, shown to the other once both have handed in, and never compared."""

import json
from typing import Any

import pytest

from app.records.policy import PRINTED
from app.records.rules import SOURCE
from app.records.state import Phase
from tests.factories.answers import answers
from tests.story.pages import Pair, compared, joined
from tests.support.world import SEED, World

ARABIC = "محمد رضا"


def reads_name(pair: Pair, typed: str) -> Any:  # noqa: ANN401  # the page
    pair.page(pair.first, "/read/wristband")
    return pair.first.press("Keep, and", identifier="DM-40417", birth_date="1961-04-09", patient_name=typed)


def named(name: str | None) -> Any:  # noqa: ANN401  # answers
    return answers(wristband={"patient_name": name})


def test_it_may_be_left_blank_and_is_not_missed(world: World) -> None:
    pair = joined(world)
    page = reads_name(pair, "")
    assert page.path.endswith("/read/chart")
    pair.read(named(None))

    assert pair.phase() is Phase.STEPS
    assert "Name on the wristband" not in pair.page(pair.second).text


@pytest.mark.parametrize(
    ("typed", "says"),
    [
        ("A" * 81, "Write at most 80 signs of the name."),
        ("Ana \N{RIGHT-TO-LEFT OVERRIDE}Lind", "This holds a sign that cannot be seen."),
    ],
    ids=["too long", "turned about"],
)
def test_what_is_no_name_stays_beside_its_fault(world: World, typed: str, says: str) -> None:
    pair = joined(world)
    page = reads_name(pair, typed)

    assert page.status == 422
    assert says in page.text
    assert dict(page.form_with("Keep, and")[0].held)["patient_name"] == typed


def test_a_name_of_any_script_is_kept_and_shown_to_its_reader_alone(world: World) -> None:
    pair = joined(world)
    reads_name(pair, f"  {ARABIC} ")

    assert ARABIC in pair.page(pair.first, "/read").text
    assert ARABIC not in pair.page(pair.second, "/read/wristband").text


def test_once_both_have_handed_in_the_other_sees_it_and_two_that_differ_stop_nothing(world: World) -> None:
    pair = compared(world, named("Ana Lind"), named("Anna Lind"))
    text = pair.page(pair.second).text

    assert pair.phase() is Phase.STEPS
    assert "Name on the wristband: Ana Lind read by the first nurse, compared with nothing" in text
    assert "Name on the wristband: Anna Lind read by the second nurse, compared with nothing" in text
    assert "DIFFERS" not in text


def test_what_both_read_stands_once_and_what_one_read_too(world: World) -> None:
    pair = compared(world, named("Ana Lind"), named(None))

    text = pair.page(pair.second).text
    assert text.count("Name on the wristband") == 1
    assert "Ana Lind read by the first nurse, compared" in text


def test_while_readings_differ_it_is_shown_to_nobody(world: World) -> None:
    read = answers(wristband={"patient_name": "Ana Lind"}, device={"demand_dose": "2 mg"})
    pair = compared(world, read, named("Anna Lind"))

    assert pair.phase() is Phase.DISPUTED
    for browser in pair.both:
        assert "Lind" not in pair.page(browser).text


def signed_record(pair: Pair) -> tuple[str, bytes]:
    """The words of the page that is signed, and the bytes of the record."""
    pair.take_steps()
    with pair.world.site.store.read() as reader:
        (frozen,) = reader.frozen_records(pair.check)
    return pair.page(pair.first, "/sign").text, frozen.document


def test_by_the_seeded_rules_the_record_leaves_it_out(world: World) -> None:
    text, document = signed_record(compared(world, named("Ana Lind"), named("Ana Lind")))

    assert "Ana Lind" not in text
    assert b"Ana Lind" not in document
    rules = json.loads((SEED / "policy.json").read_text(encoding="utf-8"))
    assert "compared with nothing" in rules[f"{SOURCE}s"]["patient_name_on_record"]


@pytest.fixture
def printing(world: World) -> World:
    """A site whose policy prints the name."""
    return world.publishes_policy(patient_name_on_record=PRINTED)


def test_where_policy_prints_it_the_record_has_it(printing: World) -> None:
    text, document = signed_record(compared(printing, named("Ana Lind"), named("Ana Lind")))

    assert "Name on the wristband: Ana Lind read by the first nurse and second nurse" in text
    assert b"Ana Lind" in document
