"""Whoever reads ahead says what any reader says: of each check, in every method, whatever is at hand."""

import itertools
from collections.abc import Iterator
from datetime import timedelta

import pytest
from sqlalchemy import text

from app.records.export_events import Exported
from app.records.state import Phase
from app.storage import Reader
from app.storage.read_ahead import ReadAhead
from app.workflow.issuing import Issued, issue_record
from app.workflow.looking import Seen, see_check
from tests.factories.quick_pdf import without_rendering
from tests.story.people import EVERYBODY, NADIA, QUILL
from tests.story.ward import Ward, open_ward
from tests.support.tampering import as_database_administrator

DAY = "2031-05-02"
OF_A_CHECK = (
    "find_check",
    "participants",
    "readings",
    "comparisons",
    "frozen_records",
    "signatures",
    "help_takers",
    "entries",
    "pdf_editions",
    "followed",
)
OF_AN_INFUSION = ("find_infusion", "began_at", "accesses_of_infusion", "course")


@pytest.fixture
def ward(database_url: str, monkeypatch: pytest.MonkeyPatch) -> Iterator[Ward]:
    """Two checks with records and looks at them, and one that was only opened."""
    without_rendering(monkeypatch)
    with open_ward(database_url) as made:
        for stage in (Phase.STARTED, Phase.CLEARED):
            made.at_stage(stage)
            assert isinstance(issue_record(made.site, made.check, 1, made.wait().now), Issued)
            assert isinstance(see_check(made.site, made.act(QUILL), made.check), Seen)
        made.opens()
        exported = Exported(export="e", form="csv", from_date=DAY, to_date=DAY, deidentified=False)
        for who in (QUILL, NADIA):
            with made.site.store.write() as tx:
                tx.append(exported, act=made.act(who))
        yield made


def everything(reader: Reader, ward: Ward, checks: list[str]) -> list[object]:
    """What is said of each check, of its infusion, and of people, units and published data."""
    ids = [each.id for each in EVERYBODY]
    said: list[object] = [*map(reader.find_person, ids), reader.people_with([*ids, "nobody"])]
    said += [reader.exports_asked_by(each) for each in (ids, [NADIA.id], [])]
    for check in checks:
        said += [getattr(reader, name)(check) for name in OF_A_CHECK]
        said += [reader.find_pdf(check, edition) for edition in (1, 2)]
        kept = reader.find_check(check)
        if kept is not None:
            said += [getattr(reader, name)(kept.infusion) for name in OF_AN_INFUSION]
            said += [reader.entries_with_course(kept), reader.find_unit(kept.unit)]
    moments = (ward.now, ward.now - timedelta(days=3650))
    return [*said, *(reader.published(at=at) for at in moments)]


def checks_of(ward: Ward) -> list[str]:
    with ward.site.store.read() as reader:
        return [check for _, check in reader.opened_checks(after=0, limit=10)]


def states(ahead: ReadAhead, checks: list[str]) -> None:
    """Have the states of these checks at hand, where they are there."""
    found = [ahead.find_check(each) for each in checks]
    ahead.take_states([each for each in found if each is not None])


def test_it_says_the_same_with_all_some_or_none_at_hand(ward: Ward) -> None:
    checks = checks_of(ward)
    with ward.site.store.read() as reader:
        plain = everything(reader, ward, [*checks, "no such check"])
    assert len(checks) == 3
    for take, at_hand in itertools.product(
        (ReadAhead.take, states), (checks, checks[1:2], ["no such check"], [])
    ):
        with ward.site.store.read_ahead() as ahead:
            take(ahead, at_hand)
            assert everything(ahead, ward, [*checks, "no such check"]) == plain
            # Twice: what was remembered is said again.
            assert everything(ahead, ward, [*checks, "no such check"]) == plain


def test_a_row_that_cannot_be_read_fails_its_own_check_alone(
    ward: Ward, database_url: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    checks = checks_of(ward)
    with ward.site.store.read_ahead() as ahead:
        ahead.take(checks)
        with monkeypatch.context() as patched:
            # What is at hand is not asked of the database.
            patched.delattr(ahead, "_connection")
            assert ahead.entries(checks[0])
            assert ahead.find_pdf(checks[0], 1)
        states(ahead, checks)
        with monkeypatch.context() as patched:
            patched.delattr(ahead, "_connection")
            assert ahead.entries(checks[0])
            assert ahead.comparisons(checks[0])
    with as_database_administrator(database_url) as connection:
        broken = {"check": checks[1]}
        connection.execute(text("UPDATE log_entry SET kind = 'x' WHERE \"check\" = :check"), broken)
    with ward.site.store.read_ahead() as ahead:
        ahead.take(checks)
        assert ahead.entries(checks[0])
        with pytest.raises(LookupError):
            ahead.entries(checks[1])
