"""Words of the list of findings and of its review: each thing that can be chosen has its own."""

from app.comparison.findings import Origin
from app.comparison.wording import SLIPS
from app.records.independence import Grade
from app.records.kept import PRIMING
from app.records.kept_reviews import ASSIGNED, CATEGORIES, COMMENTED, READERS, REVIEWED
from app.words import findings, reviewing
from app.words.names import round_words


def test_each_thing_that_findings_are_sorted_by_has_words_of_its_own() -> None:
    assert findings.ORIGINS.keys() == {each.value for each in Origin}
    assert findings.SLIP_CHOICES.keys() == SLIPS.keys()
    assert findings.GRADES.keys() == {each.code for each in Grade}
    for words in (findings.ORIGINS, findings.SLIP_CHOICES, findings.GRADES):
        assert len({*words.values()}) == len(words)
        assert all(each[0].isupper() or each[0].isdigit() for each in words.values())


def test_a_finding_says_of_which_reading_it_is_or_that_it_is_of_the_primed_volume() -> None:
    assert findings.found_in_words(PRIMING, 1) == "primed volume"
    assert findings.found_in_words("reading", 2) == round_words(2)


def test_each_category_stands_by_its_letter_with_a_gloss_of_our_own() -> None:
    assert "".join(reviewing.CATEGORIES) == CATEGORIES
    assert all(words.startswith(f"{letter}: ") for letter, words in reviewing.CATEGORIES.items())
    # The text of the index is whole or not at all; its council is named.
    assert "National Coordinating Council for Medication Error Reporting and Prevention" in reviewing.INDEX
    assert max(len(words) for words in reviewing.CATEGORIES.values()) < 80


def test_each_act_of_a_review_and_each_reader_has_words() -> None:
    assert reviewing.DONE.keys() == {REVIEWED, ASSIGNED, COMMENTED}
    assert tuple(reviewing.READERS) == READERS
    assert len({*reviewing.FACTORS.values()}) == len(reviewing.FACTORS)
