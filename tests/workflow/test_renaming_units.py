"""A unit is called otherwise from now on; what was printed before stands, and holds."""

from datetime import timedelta

import pytest
from sqlalchemy import text

from app.auditing.invariants import check_invariants
from app.auditing.verifying_store import Wanted, verify_store
from app.records.state import Phase
from app.records.store_verification import Failing
from app.workflow.looking import unit_names
from app.workflow.refusals import NoSuchUnit
from app.workflow.units import LONGEST_NAME, NameTaken, NotAName, UnitRenamed, rename_unit
from tests.story.people import ADELE, WARD
from tests.story.ward import Ward, open_ward
from tests.support.tampering import as_database_administrator

NEW, RECOVERY = "Ward 4 East, surgery", "recovery"


def renamed(ward: Ward, name: str, unit: str = WARD) -> UnitRenamed | NotAName | NameTaken | NoSuchUnit:
    return rename_unit(ward.site, ward.wait().now, by=ADELE.id, unit=unit, name=name)


def failing(ward: Ward) -> set[str]:
    steps = verify_store(ward.site, ward.now + timedelta(minutes=1), Wanted(pages=False))
    assert not hasattr(steps, "why")
    return {each.about for each in steps if isinstance(each, Failing)}


def unit_of_record(ward: Ward) -> str:
    with ward.site.store.read() as reader:
        (kept,) = reader.frozen_records(ward.check)
    return str(kept.told["check"]["unit"])


def head(ward: Ward) -> int:
    with ward.site.store.read() as reader:
        return reader.head()


def test_a_record_of_before_keeps_the_name_and_the_next_has_the_new_one(ward: Ward) -> None:
    ward.at_stage(Phase.CLEARED)
    before = unit_names(ward.site)[WARD]
    assert renamed(ward, f" {NEW} ") == UnitRenamed(name=NEW)

    assert unit_names(ward.site)[WARD] == NEW
    assert unit_of_record(ward) == before
    assert check_invariants(ward.site, ward.now) == ()
    assert failing(ward) == set()
    ward.at_stage(Phase.CLEARED)
    assert unit_of_record(ward) == NEW
    assert renamed(ward, "Ward 4 East, day surgery") == UnitRenamed(name="Ward 4 East, day surgery")
    assert failing(ward) == set()


def test_a_name_is_one_units_at_a_time_however_it_is_written(ward: Ward) -> None:
    before, first = head(ward), unit_names(ward.site)
    assert renamed(ward, first[WARD].upper().replace(" ", "-"), RECOVERY) == NameTaken()
    assert renamed(ward, first[WARD]) == UnitRenamed(name=first[WARD])
    assert head(ward) == before
    assert renamed(ward, first[WARD].upper()) == UnitRenamed(name=first[WARD].upper())
    assert renamed(ward, NEW) == UnitRenamed(name=NEW)
    # What one has given up is free, and is taken then.
    assert renamed(ward, first[WARD], RECOVERY) == UnitRenamed(name=first[WARD])
    assert renamed(ward, first[WARD]) == NameTaken()
    assert failing(ward) == set()


@pytest.mark.parametrize("name", ["", "  ", "-", "x" * (LONGEST_NAME + 1), "Ward\x00 4", "Ward\u202e4"])
def test_what_is_no_name_is_refused(one_ward: Ward, name: str) -> None:
    before = head(one_ward)
    assert renamed(one_ward, name) == NotAName()
    assert renamed(one_ward, NEW, "nowhere") == NoSuchUnit()
    assert head(one_ward) == before


@pytest.mark.parametrize(
    ("change", "found"),
    [
        (
            "UPDATE unit_renamed SET name = 'Other', name_folded = 'other' WHERE number = 2",
            "unit_renamed.name",
        ),
        ("UPDATE unit_renamed SET name_folded = 'other' WHERE number = 1", "unit_renamed.name_folded"),
        ("UPDATE unit_renamed SET named_at = '2031-01-01T00:00:00.000000Z'", "unit_renamed.named_at"),
        ("DELETE FROM unit_renamed WHERE number = 2", "unit_renamed"),
        (
            "INSERT INTO unit_renamed SELECT unit, 3, 'O', 'o', named_at FROM unit_renamed WHERE number = 2",
            "unit_renamed",
        ),
        ("UPDATE unit SET name = 'Other', name_folded = 'other'", "unit.name"),
        ("UPDATE unit SET name_folded = 'other'", "unit.name_folded"),
    ],
)
def test_names_that_no_act_made_are_found_by_both_commands(sqlite_url: str, change: str, found: str) -> None:
    with open_ward(sqlite_url) as ward:
        assert isinstance(renamed(ward, NEW), UnitRenamed)
        assert isinstance(renamed(ward, "Ward 4 East"), UnitRenamed)
        with as_database_administrator(sqlite_url) as connection:
            connection.execute(text(change))
        assert found in failing(ward)
        assert any(each.what.startswith(f"{found}: ") for each in check_invariants(ward.site, ward.now))
