"""Cards for training: dealt only where no patient is, and nothing of what is wrong on them can be read."""

from collections.abc import Iterator
from dataclasses import replace
from io import BytesIO

import pypdf
import pytest

from app.records.training_events import CardSetDealt
from app.review.cards import NothingUsual
from app.review.errors import Error
from app.review.mixes import MIXES, Mix
from app.site.installation import founded
from app.words.names import FOR_TRAINING
from app.workflow.training_cards import Cards, NotForTraining, deal_cards
from tests.factories.site_keys import INSTALLATION
from tests.story.ward import Ward, open_ward

EVEN = MIXES[-1]


@pytest.fixture
def ward(sqlite_url: str) -> Iterator[Ward]:
    with open_ward(sqlite_url) as made:
        yield made


@pytest.fixture
def school(ward: Ward) -> Ward:
    """The same ward in an installation for training."""
    with ward.site.store.write() as tx:
        tx.append(founded(ward.site.key, "a school", copy_of=INSTALLATION), at=ward.now)
    return ward


def dealt(ward: Ward) -> list[CardSetDealt]:
    with ward.site.store.read() as reader:
        events = [each.event for each in reader.entries_of_kind(CardSetDealt.kind)]
    return [each for each in events if isinstance(each, CardSetDealt)]


def deal(ward: Ward, mix: Mix = EVEN, *, seed: str = "1", sets: int = 2) -> Cards:
    made = deal_cards(ward.site, ward.now, seed=seed, mix=mix, sets=sets)
    assert isinstance(made, Cards)
    return made


def test_where_patients_are_no_cards_are_dealt(ward: Ward) -> None:
    assert deal_cards(ward.site, ward.now, seed="1", mix=EVEN, sets=1) == NotForTraining()
    assert dealt(ward) == []


def test_sets_are_numbered_on_and_each_has_a_page_that_says_it_is_for_training(school: Ward) -> None:
    assert (deal(school).first, deal(school).last) == (1, 4)
    assert [each.number for each in dealt(school)] == [1, 2, 3, 4]
    made = deal(school)
    pages = [each.extract_text() for each in pypdf.PdfReader(BytesIO(made.pdf)).pages]
    assert len(pages) == 2
    assert all(FOR_TRAINING in page for page in pages)
    assert [f"Set {number}" in page for number, page in zip((5, 6), pages, strict=True)] == [True, True]


def test_a_mix_of_which_nothing_can_be_shown_deals_nothing_and_leaves_nothing(school: Ward) -> None:
    unseen = replace(EVEN, weights={Error.LINE: 1})
    assert deal_cards(school.site, school.now, seed="1", mix=unseen, sets=20) == NothingUsual()
    assert dealt(school) == []


def test_neither_seed_nor_error_stands_readable_anywhere_and_all_that_is_sealed_is_equally_long(
    school: Ward,
) -> None:
    made = deal(school, seed="a seed that nobody tells", sets=20)
    sealed = [each.sealed for each in dealt(school)]
    assert {len(each) for each in sealed} == {len(sealed[0])}
    assert len(set(sealed)) == len(sealed)
    with school.site.store.read() as reader:
        log = repr(list(reader.rows("log_entry")))
    printed = "".join(each.extract_text() for each in pypdf.PdfReader(BytesIO(made.pdf)).pages)
    for told in (log, printed):
        assert "a seed that nobody tells" not in told
        assert not [each for each in Error if each.value in told and "-" in each.value]
