"""How an infusion stands has words, whatever an emergency left."""

import pytest

from app.words.as_it_stands import left_words, told_words, until_changed


@pytest.mark.parametrize(
    ("what", "which", "words"),
    [
        ("held", "", "Held: a reversal agent was given"),
        ("dead", "", "Device dead, or power lost"),
        ("away", "mri", "Away without PCA: MRI"),
        ("away", "theatre", "Away without PCA: theatre"),
        ("kept", "death", "Death: kept as it is"),
        ("not-found", "code", "The code is not found"),
    ],
)
def test_each_thing_that_is_left_has_words(what: str, which: str, words: str) -> None:
    assert left_words(what, which) == words


def test_a_syringe_whose_key_is_not_found_is_counted() -> None:
    assert until_changed(counted=False).startswith("Two count it now, until")
    assert until_changed(counted=True).startswith("Counted by two since; again at each handoff, until")


def test_what_was_told_has_its_label_and_no_number_of_a_seal_is_taken_for_a_day() -> None:
    kept = {"what": "kept", "told": {"seal": "20310502", "total_amount": "none"}}
    assert told_words(kept, str.upper) == (
        ("Number of the seal", "20310502"),
        ("Total given, as mass", "Not shown"),
    )
    held = {"what": "held", "told": {"agent": "naloxone", "given_at": "at noon"}}
    assert told_words(held, str.upper) == (("Reversal agent", "naloxone"), ("When", "AT NOON"))
