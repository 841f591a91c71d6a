# ruff: noqa: ANN401  # a row holds values of every kind
"""The database is the last guard: each constraint has a name, and each is broken here on both engines."""

from typing import Any

import pytest
from sqlalchemy import CheckConstraint, Engine, Table, insert, text
from sqlalchemy.exc import IntegrityError

from app.people import folded
from app.records.kept import PRIMING
from app.storage import ConstraintBroken, Store, tables
from app.storage.refusals import broken_constraint
from app.storage.triggers import RULES
from tests.storage import builders as build
from tests.storage.builders import NOW, later
from tests.storage.key_breaches import KEY_BREACHES, MORE_BREACHES, NEXT_PLACE, OTHER_EDITION, Breach
from tests.storage.key_breaches import row_of as _row

TABLES = tables.metadata.tables


def _person(raw: dict[str, Any] | None = None, **given: Any) -> dict[str, Any]:
    """A row as the program would write it, but for what is `raw`."""
    made, raw = build.person("esra", **given), raw or {}
    compared = {"login_folded": folded(made.login), "staff_number_folded": folded(made.staff_number)}
    return {**_row(made, "person", **compared), **raw}


OTHER_CHECK = ("check", _row(build.check(id="check-2", opened_at=later(60)), "check"))
ENTRY: dict[str, Any] = {
    "position": 2,
    "at": NOW,
    "by": "amari",
    "infusion": "infusion-1",
    "check": "check-1",
    "session": "",
    "device": "",
    "signed_in_at": None,
    "kind": "opened",
    "canonical": b"{}",
}
ACCESS: dict[str, Any] = {
    "position": 9,
    "at": NOW,
    "person": "amari",
    "session": "s",
    "check": "",
    "what": "record",
}
LEASE = {"name": "sweeper", "holder": "process-2", "until": NOW}

# The stage is `fill`: a check that amari (slot 1) and birk (slot 2) signed, where chidi took a call for help.
BREACHES: dict[str, Breach] = {
    "two_different_people": Breach(
        table="participant",
        row=_row(build.participant(2, check="check-2", person="amari"), "participant"),
        before=(OTHER_CHECK, ("participant", _row(build.participant(1, check="check-2"), "participant"))),
    ),
    "one_person_a_slot": Breach(
        table="participant", row=_row(build.participant(2, person="dara"), "participant")
    ),
    "slot_is_one_or_two": Breach(
        table="participant", row=_row(build.participant(3, person="dara"), "participant")
    ),
    "participant_of_known_check": Breach(
        table="participant", row=_row(build.participant(check="none"), "participant")
    ),
    "participant_is_known_person": Breach(
        table="participant",
        row=_row(build.participant(check="check-2", person="nobody"), "participant"),
        before=(OTHER_CHECK,),
    ),
    "one_reading_a_person_a_round": Breach(
        table="reading",
        row=_row(build.reading(2, round=2, person="amari", session="s", id="r"), "reading"),
        before=(("reading", _row(build.reading(1, round=2), "reading")),),
    ),
    "one_reading_a_slot_a_round": Breach(
        table="reading", row=_row(build.reading(2, person="dara", session="s", id="r"), "reading")
    ),
    "two_different_sessions": Breach(
        table="reading",
        row=_row(build.reading(2, round=2, session="session of amari"), "reading"),
        before=(("reading", _row(build.reading(1, round=2), "reading")),),
    ),
    "reader_is_participant": Breach(
        table="reading", row=_row(build.reading(1, round=2, person="dara"), "reading")
    ),
    "envelope_size": Breach(table="reading", row=_row(build.reading(round=2, envelope=b"short"), "reading")),
    "reading_id_unique": Breach(
        table="reading", row=_row(build.reading(round=2, id="check-1 sources 1 1"), "reading")
    ),
    "draft_envelope_size": Breach(table="draft", row=_row(build.draft(round=3, envelope=b"short"), "draft")),
    "draft_is_by_a_participant": Breach(table="draft", row=_row(build.draft(person="dara"), "draft")),
    "one_draft_a_person_a_round": Breach(table="draft", row=_row(build.draft(), "draft")),
    "one_comparison_a_round": Breach(table="comparison", row=_row(build.comparison(), "comparison")),
    "comparison_needs_both_readings": Breach(
        table="comparison",
        row=_row(build.comparison(round=2), "comparison"),
        before=(("reading", _row(build.reading(1, round=2), "reading")),),
    ),
    "one_frozen_an_edition": Breach(table="frozen", row=_row(build.frozen(digest="other"), "frozen")),
    "frozen_of_known_check": Breach(table="frozen", row=_row(build.frozen(check="none"), "frozen")),
    "one_signature_a_slot": Breach(table="signature", row=_row(build.signature(1), "signature")),
    "signer_is_participant": Breach(
        table="signature",
        # With a key of their own, in another's slot.
        row=_row(
            build.signature(1, edition=2, person="birk", digest="other", kid="key of birk"), "signature"
        ),
        before=(OTHER_EDITION,),
    ),
    "signature_is_of_the_frozen_digest": Breach(
        table="signature",
        row=_row(build.signature(1, edition=2, digest="another"), "signature"),
        before=(OTHER_EDITION,),
    ),
    "one_pdf_an_edition": Breach(table="pdf", row=_row(build.pdf(), "pdf")),
    "pdf_needs_two_signatures": Breach(
        table="pdf",
        row=_row(build.pdf(edition=2), "pdf"),
        before=(
            OTHER_EDITION,
            ("signature", _row(build.signature(1, edition=2, digest="other"), "signature")),
        ),
    ),
    "one_what_followed_an_edition": Breach(
        table="what_followed", row=_row(build.followed(), "what_followed")
    ),
    "what_followed_a_frozen_record": Breach(
        table="what_followed", row=_row(build.followed(edition=7), "what_followed")
    ),
    "one_taker_a_help": Breach(table="help_taker", row=_row(build.help_taker(person="dara"), "help_taker")),
    "help_for_known_check": Breach(
        table="help_taker", row=_row(build.help_taker(help="h", check="none"), "help_taker")
    ),
    "help_by_known_person": Breach(
        table="help_taker", row=_row(build.help_taker(help="h", person="nobody"), "help_taker")
    ),
    "third_person": Breach(
        table="help_taker", row=_row(build.help_taker(help="h", person="amari"), "help_taker")
    ),
    "one_code_a_check": Breach(
        table="join_code", row={"digest": "digest of a code", "check": "check-1", "expires_at": NOW}
    ),
    "code_of_known_check": Breach(table="join_code", row={"digest": "d", "check": "none", "expires_at": NOW}),
    "check_id_unique": Breach(table="check", row=_row(build.check(), "check")),
    "check_of_known_infusion": Breach(table="check", row=_row(build.check(id="c", infusion="none"), "check")),
    "check_in_known_unit": Breach(table="check", row=_row(build.check(id="c", unit="none"), "check")),
    "check_opened_by_known_person": Breach(
        table="check", row=_row(build.check(id="c", opened_by="nobody"), "check")
    ),
    "infusion_id_unique": Breach(table="infusion", row=_row(build.infusion(), "infusion")),
    "infusion_in_known_unit": Breach(
        table="infusion", row=_row(build.infusion(id="i", unit="none"), "infusion")
    ),
    "unit_id_unique": Breach(table="unit", row={"id": "ward-5", "name": "Another"}),
    "person_id_unique": Breach(table="person", row=_person(id="amari")),
    "login_unique": Breach(table="person", row=_person(login="amari")),
    "staff_number_unique": Breach(table="person", row=_person(staff_number="number-of-amari")),
    # By SQL alone: another spelling, and what it is compared as is said to be something else.
    "identity_is_folded": Breach(
        table="person", row=_person(login="AMARI", raw={"login_folded": "somebody else"})
    ),
    "role_held_once": Breach(table="person_role", row={"person": "amari", "role": "nurse"}),
    "role_of_known_person": Breach(table="person_role", row={"person": "nobody", "role": "nurse"}),
    "session_digest_unique": Breach(table="session", row=_row(build.session(), "session")),
    "session_of_known_person": Breach(table="session", row=_row(build.session("nobody"), "session")),
    "throttle_key_unique": Breach(table="throttle", row={"key": "amari", "failures": 2, "not_before": None}),
    "lease_name_unique": Breach(table="lease", row=LEASE),
    "site_data_version_unique": Breach(
        table="site_data",
        row=_row(build.site_data(in_force_from=later(1)), "site_data"),
    ),
    "one_site_data_in_force": Breach(table="site_data", row=_row(build.site_data(version="2"), "site_data")),
    "only_one_log_head": Breach(table="log_head", row={"id": 2, "size": 0}),
    "log_head_id_unique": Breach(table="log_head", row={"id": 1, "size": 0}),
    "log_has_no_gap": Breach(table="log_entry", row=ENTRY | {"position": 3}),
    # By amari, who names amari.
    "witnessed_by_a_second_person": Breach(
        table="log_entry",
        row=ENTRY | {"kind": "drug-taken-back", "canonical": b'{"data":{"witness":"amari"}}'},
        prepare=NEXT_PLACE,
    ),
    "one_entry_a_position": Breach(table="log_entry", row=ENTRY | {"position": 1}),
    "entry_of_known_check": Breach(table="log_entry", row=ENTRY | {"check": "none"}, prepare=NEXT_PLACE),
    "entry_of_known_infusion": Breach(
        table="log_entry", row=ENTRY | {"check": "", "infusion": "none"}, prepare=NEXT_PLACE
    ),
    **KEY_BREACHES,
    "access_position_unique": Breach(table="access", row=ACCESS | {"position": 1}),
    "access_to_known_check": Breach(table="access", row=ACCESS | {"check": "none"}),
}

# The superfluous keys that a foreign key points at: a narrower key always refuses first.
POINTED_AT = {"participant_in_full", "frozen_in_full", "personal_key_in_full"}
# A key behind a trigger that already refuses every row that would break it.
BEHIND_A_TRIGGER = {"comparison_of_known_check", "pdf_of_frozen_record", "one_checkpoint_a_size"}


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


@pytest.mark.parametrize(
    "raw",
    [
        {"login": "Esra 2"},
        {"login": "e_sra"},
        {"login": "-.-", "login_folded": ""},
        {"staff_number": "NUMBER-OF-AMARI", "staff_number_folded": "another"},
        {"staff_number": "number of amari"},
        {"staff_number": "number.of.amari"},
    ],
    ids=str,
)
def test_no_plain_spelling_makes_another_person_also_by_sql(
    raw: dict[str, Any], store: Store, sql: Engine
) -> None:
    _refused(Breach(table="person", row=_person(raw)), "identity_is_folded", store, sql)


@pytest.mark.parametrize(("name", "breach"), MORE_BREACHES, ids=range(len(MORE_BREACHES)))
def test_the_database_refuses_that_too(name: str, breach: Breach, store: Store, sql: Engine) -> None:
    _refused(breach, name, store, sql)


def _refused(breach: Breach, name: str, store: Store, sql: Engine) -> None:
    build.fill(store)
    table = TABLES[breach.table]
    with sql.connect() as connection:
        connection.execution_options(writing=True)
        for before, row in breach.before:
            connection.execute(insert(TABLES[before]), dict(row))
        if breach.prepare:
            connection.execute(text(breach.prepare))
        with pytest.raises(IntegrityError) as refusal:
            connection.execute(insert(table), dict(breach.row))
        assert broken_constraint(refusal.value, connection, table, breach.row) == name
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


@pytest.mark.parametrize("person", ["chidi", "birk"])
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
        tx.add_participant(build.participant(1, check="check-2", person="dara"))
    with pytest.raises(ConstraintBroken) as refusal, ward.write() as tx:
        tx.add_help_taker(build.help_taker(person="dara"))
    assert refusal.value.name == "third_person"


def test_a_check_of_another_infusion_is_not_the_next_one(ward: Store) -> None:
    with ward.write() as tx:
        tx.add_help_taker(build.help_taker(person="chidi"))
        tx.add_infusion(build.infusion(id="infusion-2"))
        tx.add_check(build.check(id="check-2", infusion="infusion-2", opened_at=later(60)))
        tx.add_participant(build.participant(1, check="check-2", person="chidi"))
    with ward.read() as reader:
        assert [each.person for each in reader.participants("check-2")] == ["chidi"]


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
