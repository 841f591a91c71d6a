"""A record is verified by the names of its moment: a name that was put right since then fails nothing."""

from datetime import timedelta

import pytest
from sqlalchemy import text

from app.auditing.invariants import check_invariants
from app.auditing.verifying_store import Wanted, verify_store
from app.records.events import PersonNamed
from app.records.state import Phase
from app.records.store_verification import Began, Progress
from app.workflow.units import UnitRenamed, rename_unit
from tests.story.people import ADELE, IMOGEN, NADIA, WARD
from tests.story.ward import Ward, open_ward
from tests.support.tampering import as_database_administrator

NEW = "Nadia Ferrow-Lind"


def renamed(ward: Ward, address: str, *, logged: bool = True) -> None:
    """A person and the unit are called otherwise from now on: by SQL, and as the acts leave the log."""
    ward.wait()
    with as_database_administrator(address) as connection:
        connection.execute(text("UPDATE person SET printed_name = :name WHERE id = 'nadia'"), {"name": NEW})
        if not logged:
            connection.execute(text("UPDATE unit SET name = 'Ward 4 east, surgery' WHERE id = 'ward-4-east'"))
    if logged:
        unit = {"unit": WARD, "name": "Ward 4 east, surgery"}
        assert isinstance(rename_unit(ward.site, ward.now, by=ADELE.id, **unit), UnitRenamed)
        with ward.site.store.write() as tx:
            staff_number = NADIA.newcomer.person.staff_number
            event = PersonNamed(person=NADIA.id, printed_name=NEW, staff_number=staff_number)
            tx.append(event, at=ward.now, by=ADELE.id)
            # As an act that changes an account leaves it.
            tx.set_active(NADIA.id, active=True)


def failing(ward: Ward) -> set[str]:
    steps = verify_store(ward.site, ward.now + timedelta(minutes=1), Wanted(pages=False))
    assert not hasattr(steps, "why")
    return {getattr(each, "about", "") for each in steps if not isinstance(each, Began | Progress)}


def named_in(ward: Ward) -> tuple[str, str]:
    """The first nurse and the unit, as the record of the check at hand has them."""
    with ward.site.store.read() as reader:
        (kept,) = reader.frozen_records(ward.check)
    return kept.told["clinicians"][0]["printed_name"], kept.told["check"]["unit"]


def test_a_record_keeps_the_names_of_its_moment_and_the_next_has_the_new_ones(database_url: str) -> None:
    with open_ward(database_url) as ward:
        ward.at_stage(Phase.CLEARED)
        before = named_in(ward)
        renamed(ward, database_url)
        assert named_in(ward) == before
        assert check_invariants(ward.site, ward.now) == ()
        assert failing(ward) == set()
        ward.opens(IMOGEN).joins(NADIA).reads(IMOGEN).reads(NADIA).compares().confirms_all()
        with ward.site.store.read() as reader:
            (kept,) = reader.frozen_records(ward.check)
        assert [each["printed_name"] for each in kept.told["clinicians"]] == [IMOGEN.printed_name, NEW]
        assert kept.told["check"]["unit"] == "Ward 4 east, surgery"
        assert check_invariants(ward.site, ward.now) == ()
        assert failing(ward) == set()


def test_a_name_that_somebody_changed_in_the_table_alone_is_found(sqlite_url: str) -> None:
    with open_ward(sqlite_url) as ward:
        ward.at_stage(Phase.CLEARED)
        renamed(ward, sqlite_url, logged=False)
        assert failing(ward) == {"person", "person.printed_name", "unit.name", "unit.name_folded"}


@pytest.mark.parametrize("column", ["login_folded", "staff_number_folded"])
def test_what_a_person_is_compared_as_is_what_the_number_says(sqlite_url: str, column: str) -> None:
    """By SQL alone somebody makes room for a second one of the same."""
    with open_ward(sqlite_url) as ward:
        with as_database_administrator(sqlite_url) as connection:
            connection.execute(text(f"UPDATE person SET {column} = 'another' WHERE id = 'quill'"))  # noqa: S608
        assert failing(ward) == {"person", f"person.{column}"}


@pytest.mark.parametrize(
    "changed",
    [
        "DELETE FROM person WHERE id = 'quill'",
        "UPDATE person SET staff_number = 'DM-0', staff_number_folded = 'dm0' WHERE id = 'quill'",
        "DELETE FROM unit WHERE id = 'recovery'",
    ],
)
def test_what_the_log_names_has_to_be_there(sqlite_url: str, changed: str) -> None:
    with open_ward(sqlite_url) as ward:
        with as_database_administrator(sqlite_url) as connection:
            connection.execute(text(changed))
        found = failing(ward) - {"issued_code", "person_role"}
        assert found in ({"person"}, {"person", "person.staff_number"}, {"unit"})
