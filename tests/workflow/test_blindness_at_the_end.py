"""At the end of PCA the one's volume and the other's never meet before both are in."""

import pytest

from tests.story.people import NADIA, RUTH
from tests.story.ward import Ward
from tests.workflow.test_end_of_pca import LEFT, at_the_remainder, gone


@pytest.fixture
def ending(one_ward: Ward) -> Ward:
    return at_the_remainder(one_ward)


def test_what_was_read_first_is_in_no_row_of_the_log(ending: Ward) -> None:
    odd = "14.3719 mL"
    ending.reading_drug(NADIA, given={**LEFT, "in_syringe": odd})
    with ending.site.store.read() as reader:
        rows = [bytes(each["canonical"]) for each in reader.rows("log_entry")]
    assert not any(b"14.3719" in each for each in rows)
    assert ending.state().taken_back == ()
    ending.witnessing(NADIA, RUTH, seen=LEFT)
    assert gone(ending) == [("14.6 mL", odd, RUTH.id, "")]


def test_what_is_sealed_has_one_size_whatever_was_read(ending: Ward) -> None:
    sizes = set()
    for volume in ("0 mL", "14.6 mL", "14.6000000 mL"):
        ending.reading_drug(NADIA, given={**LEFT, "in_syringe": volume})
        waiting = ending.loaded().first_read
        assert waiting is not None
        sizes.add(len(waiting.sealed))
    assert len(sizes) == 1


def test_volumes_that_do_not_agree_are_told_to_nobody(ending: Ward) -> None:
    ending.taking_back(NADIA, RUTH, given=LEFT, seen={"in_syringe": "12.3719 mL"})
    with ending.site.store.read() as reader:
        rows = [bytes(each["canonical"]) for each in reader.rows("log_entry")]
    assert not any(b"12.3719" in each for each in rows)
