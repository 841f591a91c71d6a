"""The database is the last guard: each constraint has a name, and each is broken here on both engines."""

import pytest
from sqlalchemy import CheckConstraint, Engine, Table

from app.records.kept import PRIMING
from app.storage import ConstraintBroken, Store, tables
from app.storage.triggers import RULES
from tests.storage import builders as build
from tests.storage.breaches import BREACHES, MORE_BREACHES, refuse
from tests.storage.builders import later
from tests.storage.key_breaches import Breach

TABLES = tables.metadata.tables


# The superfluous keys that a foreign key points at: a narrower key always refuses first.
POINTED_AT = {"participant_in_full", "frozen_in_full", "personal_key_in_full", "proposal_of_one_person"}
# A key behind a trigger that already refuses every row that would break it.
BEHIND_A_TRIGGER = {
    "comparison_of_known_check",
    "pdf_of_frozen_record",
    "one_checkpoint_a_size",
    "acceptance_by_known_person",
    "one_name_at_a_time",
}


def _named(table: Table) -> set[str]:
    constraints = {str(each.name) for each in table.constraints}
    assert "None" not in constraints, f"a constraint of {table.name} has no name"
    return constraints


def test_every_constraint_and_every_rule_is_broken_here() -> None:
    named = {name for table in TABLES.values() for name in _named(table)}
    rules = {rule.says for rule in RULES if rule.when == "INSERT"}
    assert set(BREACHES) == (named | rules) - POINTED_AT - BEHIND_A_TRIGGER


def test_every_check_constraint_is_a_table_constraint() -> None:
    """A check hidden in a column would escape the list above."""
    columns = [column for table in TABLES.values() for column in table.columns]
    assert not [
        column for column in columns if any(isinstance(c, CheckConstraint) for c in column.constraints)
    ]


@pytest.mark.parametrize("name", sorted(BREACHES))
def test_the_database_refuses_it_by_name(name: str, store: Store, sql: Engine) -> None:
    _refused(BREACHES[name], name, store, sql)


@pytest.mark.parametrize(("name", "breach"), MORE_BREACHES, ids=range(len(MORE_BREACHES)))
def test_the_database_refuses_that_too(name: str, breach: Breach, store: Store, sql: Engine) -> None:
    _refused(breach, name, store, sql)


def _refused(breach: Breach, name: str, store: Store, sql: Engine) -> None:
    build.fill(store)
    with sql.connect() as connection:
        connection.execution_options(writing=True)
        assert refuse(connection, breach) == name
        connection.rollback()


def test_two_readings_of_different_subjects_allow_no_comparison(ward: Store) -> None:
    with ward.write() as tx:
        tx.add_reading(build.reading(1))
        tx.add_reading(build.reading(2, subject=PRIMING))
    with pytest.raises(ConstraintBroken) as refusal, ward.write() as tx:
        tx.add_comparison(build.comparison())
    assert refusal.value.name == "comparison_needs_both_readings"
    with ward.write() as tx:
        tx.add_reading(build.reading(2))
        tx.add_comparison(build.comparison())


@pytest.mark.parametrize("person", ["femi", "birk"])
def test_who_took_help_is_in_neither_this_check_nor_the_next(store: Store, person: str) -> None:
    """Rule 1: from then on the third person can be neither first nor second of this check or of the next."""
    with store.write() as tx:
        build.add_ward(tx)
        tx.add_infusion(build.infusion())
        tx.add_check(build.check())
        tx.add_participant(build.participant(1))
        tx.add_help_taker(build.help_taker(person=person))
    with pytest.raises(ConstraintBroken) as refusal, store.write() as tx:
        tx.add_participant(build.participant(2, person=person))
    assert refusal.value.name == "third_person"
    with store.write() as tx:
        tx.add_check(build.check(id="check-2", opened_at=later(60)))
    with pytest.raises(ConstraintBroken) as refusal, store.write() as tx:
        tx.add_participant(build.participant(1, check="check-2", person=person))
    assert refusal.value.name == "third_person"
    with store.write() as tx:
        tx.add_check(build.check(id="check-3", opened_at=later(120)))
        tx.add_participant(build.participant(1, check="check-3", person=person))


def test_who_takes_part_in_the_next_check_cannot_take_help_in_the_one_before(ward: Store) -> None:
    with ward.write() as tx:
        tx.add_check(build.check(id="check-2", opened_at=later(60)))
        tx.add_participant(build.participant(1, check="check-2", person="gita"))
    with pytest.raises(ConstraintBroken) as refusal, ward.write() as tx:
        tx.add_help_taker(build.help_taker(person="gita"))
    assert refusal.value.name == "third_person"


def test_a_check_of_another_infusion_is_not_the_next_one(ward: Store) -> None:
    with ward.write() as tx:
        tx.add_help_taker(build.help_taker(person="femi"))
        tx.add_infusion(build.infusion(id="infusion-2"))
        tx.add_check(build.check(id="check-2", infusion="infusion-2", opened_at=later(60)))
        tx.add_participant(build.participant(1, check="check-2", person="femi"))
    with ward.read() as reader:
        assert [each.person for each in reader.participants("check-2")] == ["femi"]


def test_the_refusal_says_the_name_and_nothing_of_the_row(ward: Store) -> None:
    with pytest.raises(ConstraintBroken) as refusal, ward.write() as tx:
        tx.add_reading(build.reading(envelope=b"7.3719 canary"))
    assert str(refusal.value) == refusal.value.name == "envelope_size"
    assert refusal.value.__cause__ is None
    assert refusal.value.__suppress_context__


def test_what_must_be_given_is_named(ward: Store) -> None:
    with pytest.raises(ConstraintBroken) as refusal, ward.write() as tx:
        tx.add_reading(build.reading(commitment=None))
    assert refusal.value.name == "not null: reading.commitment"
