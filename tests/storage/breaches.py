# ruff: noqa: ANN401  # a row holds values of every kind
"""Rows that the database must refuse, and the name under which it does: one for each constraint and rule."""

from typing import Any

from sqlalchemy import Connection, insert, text
from sqlalchemy.exc import IntegrityError

from app.people import folded
from app.storage import tables
from app.storage.refusals import broken_constraint
from tests.storage import builders as build
from tests.storage import key_builders as keys
from tests.storage.builders import NOW, later
from tests.storage.key_breaches import (
    ALLOWED_KEYS,
    KEY_BREACHES,
    MORE_KEY_BREACHES,
    NEXT_PLACE,
    OTHER_EDITION,
    Breach,
)
from tests.storage.key_breaches import row_of as _row
from tests.storage.order_breaches import ORDER_BREACHES
from tests.storage.people_breaches import ALLOWED_OF_PEOPLE, MORE_PEOPLE_BREACHES, PEOPLE_BREACHES
from tests.storage.row_breaches import ALLOWED_ROWS, MORE_ROW_BREACHES, ROW_BREACHES
from tests.storage.rule_breaches import RULE_BREACHES


def refuse(connection: Connection, breach: Breach) -> str:
    """The name under which the database refuses a row; blank if it takes it."""
    table = tables.metadata.tables[breach.table]
    for before, row in breach.before:
        connection.execute(insert(tables.metadata.tables[before]), dict(row))
    if breach.prepare:
        connection.execute(text(breach.prepare))
    try:
        connection.execute(insert(table), dict(breach.row))
    except IntegrityError as error:
        return broken_constraint(error, connection, table, breach.row)
    return ""


def person_row(raw: dict[str, Any] | None = None, **given: Any) -> dict[str, Any]:
    """A row as the program would write it, but for what is `raw`."""
    made, raw = build.person("esra", **given), raw or {}
    compared = {"login_folded": folded(made.login), "staff_number_folded": folded(made.staff_number)}
    return {**_row(made, "person", **compared), **raw}


WARD_6 = {"id": "ward-6", "name": "Ward 6", "name_folded": "ward6"}


def renaming(unit: str, number: int, name: str) -> dict[str, Any]:
    return {"unit": unit, "number": number, "name": name, "name_folded": folded(name), "named_at": NOW}


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

READ_BY_BIRK = _row(build.reading(2, round=2), "reading")
BIRK_RESET = ("key_retirement", _row(keys.retirement("birk"), "key_retirement"))
BIRK_UNCONFIRMED = ("personal_key", _row(keys.key("birk", kid="next key of birk"), "personal_key"))


def _unseen(person: str) -> Breach:
    row = _row(build.participant(1, check="check-2", person=person), "participant")
    return Breach(table="participant", row=row, before=(OTHER_CHECK,))


# The stage is `fill`: a check that amari (slot 1) and birk (slot 2) signed, where femi took a call for help.
def _gone(canonical: bytes) -> Breach:
    """What is written, by amari, of drug that was taken back."""
    row = ENTRY | {"kind": "drug-taken-back", "canonical": canonical}
    return Breach(table="log_entry", row=row, prepare=NEXT_PLACE)


BREACHES: dict[str, Breach] = {
    "two_different_people": Breach(
        table="participant",
        row=_row(build.participant(2, check="check-2", person="amari"), "participant"),
        before=(OTHER_CHECK, ("participant", _row(build.participant(1, check="check-2"), "participant"))),
    ),
    "one_person_a_slot": Breach(
        table="participant", row=_row(build.participant(2, person="gita"), "participant")
    ),
    "slot_is_one_or_two": Breach(
        table="participant", row=_row(build.participant(3, person="gita"), "participant")
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
        table="reading", row=_row(build.reading(2, person="gita", session="s", id="r"), "reading")
    ),
    "two_different_sessions": Breach(
        table="reading",
        row=_row(build.reading(2, round=2, session="session of amari"), "reading"),
        before=(("reading", _row(build.reading(1, round=2), "reading")),),
    ),
    "reader_is_participant": Breach(
        table="reading", row=_row(build.reading(1, round=2, person="gita"), "reading")
    ),
    "envelope_size": Breach(table="reading", row=_row(build.reading(round=2, envelope=b"short"), "reading")),
    "reading_id_unique": Breach(
        table="reading", row=_row(build.reading(round=2, id="check-1 sources 1 1"), "reading")
    ),
    "draft_envelope_size": Breach(table="draft", row=_row(build.draft(round=3, envelope=b"short"), "draft")),
    "draft_is_by_a_participant": Breach(table="draft", row=_row(build.draft(person="gita"), "draft")),
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
    "one_taker_a_turn": Breach(table="help_taker", row=_row(build.help_taker(person="gita"), "help_taker")),
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
    # A one-time code, and no confirmed key in use since.
    "seen_by_a_colleague": _unseen("dara"),
    "unit_id_unique": Breach(table="unit", row={"id": "ward-5", "name": "Another", "name_folded": "another"}),
    # However it is written; the name that was given up is free.
    "unit_name_taken": Breach(
        table="unit", row={"id": "ward-6", "name": "WARD-5 north", "name_folded": "ward5north"}
    ),
    "name_of_known_unit": Breach(table="unit_renamed", row=renaming("nowhere", 1, "Nowhere")),
    "unit_is_renamed_in_order": Breach(table="unit_renamed", row=renaming("ward-5", 3, "Ward 5 South")),
    "person_id_unique": Breach(table="person", row=person_row(id="amari")),
    "login_unique": Breach(table="person", row=person_row(login="amari")),
    "staff_number_unique": Breach(table="person", row=person_row(staff_number="number-of-amari")),
    # By SQL alone: another spelling, and what it is compared as is said to be something else.
    "identity_is_folded": Breach(
        table="person", row=person_row(login="AMARI", raw={"login_folded": "somebody else"})
    ),
    "role_held_once": Breach(table="person_role", row={"person": "amari", "role": "nurse"}),
    "role_of_known_person": Breach(table="person_role", row={"person": "nobody", "role": "nurse"}),
    "session_digest_unique": Breach(table="session", row=_row(build.session(), "session")),
    "session_of_known_person": Breach(table="session", row=_row(build.session("nobody"), "session")),
    "throttle_key_unique": Breach(table="throttle", row={"key": "amari", "failures": 2, "not_before": None}),
    "lease_name_unique": Breach(table="lease", row=LEASE),
    "site_data_version_unique": Breach(
        table="site_data",
        row=_row(build.site_data(number=2), "site_data"),
    ),
    "one_site_data_after_another": Breach(
        table="site_data", row=_row(build.site_data(version="2", in_force_from=later(1)), "site_data")
    ),
    **RULE_BREACHES,
    "only_one_log_head": Breach(table="log_head", row={"id": 2, "size": 0}),
    "log_head_id_unique": Breach(table="log_head", row={"id": 1, "size": 0}),
    "log_has_no_gap": Breach(table="log_entry", row=ENTRY | {"position": 3}),
    # By amari, who names amari.
    "witnessed_by_a_second_person": _gone(b'{"data":{"witness":"amari"}}'),
    "one_entry_a_position": Breach(table="log_entry", row=ENTRY | {"position": 1}),
    "entry_of_known_check": Breach(table="log_entry", row=ENTRY | {"check": "none"}, prepare=NEXT_PLACE),
    "entry_of_known_infusion": Breach(
        table="log_entry", row=ENTRY | {"check": "", "infusion": "none"}, prepare=NEXT_PLACE
    ),
    **KEY_BREACHES,
    **PEOPLE_BREACHES,
    **ROW_BREACHES,
    **ORDER_BREACHES,
    "access_position_unique": Breach(table="access", row=ACCESS | {"position": 1}),
    "access_to_known_check": Breach(table="access", row=ACCESS | {"check": "none"}),
}


def _participant(*before: tuple[str, dict[str, Any]], **given: Any) -> Breach:
    return Breach(table="participant", row=_row(build.participant(1, **given), "participant"), before=before)


def _help(*before: tuple[str, dict[str, Any]], **given: Any) -> Breach:
    taken = build.help_taker(help="h", **given)
    return Breach(table="help_taker", row=_row(taken, "help_taker"), before=before)


THIRD_CHECK = ("check", _row(build.check(id="check-3", opened_at=later(120)), "check"))
# Of another infusion, between the first check and the second.
ELSEWHERE = (
    ("infusion", _row(build.infusion(id="infusion-2"), "infusion")),
    ("check", _row(build.check(id="check-e", infusion="infusion-2", opened_at=later(30)), "check")),
)
GITA_IN_THE_SECOND = (
    "participant",
    _row(build.participant(2, check="check-2", person="gita"), "participant"),
)
EDITION_3 = ("frozen", _row(build.frozen(edition=3, digest="third"), "frozen"))

# Further ways to break a rule that the list above breaks once.
MORE_BREACHES: tuple[tuple[str, Breach], ...] = (
    *MORE_KEY_BREACHES,
    ("witnessed_by_a_second_person", _gone(b'{"data":{"not_witnessed":"nobody","witness":"amari"}}')),
    ("witnessed_by_a_second_person", _gone(b'{"data":{"not_witnessed":"","witness":""}}')),
    ("seen_by_a_colleague", _unseen("chidi")),
    ("seen_by_a_colleague", Breach(table="reading", row=READ_BY_BIRK, before=(BIRK_RESET,))),
    ("seen_by_a_colleague", Breach(table="reading", row=READ_BY_BIRK, before=(BIRK_RESET, BIRK_UNCONFIRMED))),
    *MORE_PEOPLE_BREACHES,
    *MORE_ROW_BREACHES,
    (
        "unit_name_taken",
        Breach(
            table="unit_renamed",
            before=(("unit", WARD_6),),
            row=renaming("ward-6", 1, "ward 5 NORTH"),
        ),
    ),
    *(
        ("identity_is_folded", Breach(table="person", row=person_row(raw)))
        for raw in (
            {"login": "Esra 2"},
            {"login": "e_sra"},
            {"login": "-.-", "login_folded": ""},
            {"staff_number": "NUMBER-OF-AMARI", "staff_number_folded": "another"},
            {"staff_number": "number of amari"},
            {"staff_number": "number.of.amari"},
        )
    ),
    # Whoever took help in the first check is in no second one of the infusion, nor in their own.
    ("third_person", _participant(OTHER_CHECK, check="check-2", person="femi")),
    ("third_person", _participant(OTHER_CHECK, *ELSEWHERE, check="check-2", person="femi")),
    (
        "third_person",
        _participant(
            OTHER_CHECK,
            ("help_taker", _row(build.help_taker(help="h", check="check-2", person="gita"), "help_taker")),
            check="check-2",
            person="gita",
        ),
    ),
    # And the other way about.
    ("third_person", _help(OTHER_CHECK, GITA_IN_THE_SECOND, person="gita")),
    ("third_person", _help(OTHER_CHECK, GITA_IN_THE_SECOND, *ELSEWHERE, person="gita")),
    # The two signatures are of another edition.
    (
        "pdf_needs_two_signatures",
        Breach(table="pdf", row=_row(build.pdf(edition=3), "pdf"), before=(EDITION_3,)),
    ),
)

# What the same rules let through, by the rule's own name: a rule that refuses too much is broken as well.
ALLOWED: tuple[tuple[str, Breach], ...] = (
    *ALLOWED_KEYS,
    *ALLOWED_ROWS,
    # That nobody else saw it, where that is what is written.
    ("witness_is_a_second_person", _gone(b'{"data":{"not_witnessed":"nobody","witness":""}}')),
    ("participant_was_seen_by_a_colleague", _participant(OTHER_CHECK, check="check-2", person="amari")),
    ("participant_was_seen_by_a_colleague", _participant(OTHER_CHECK, check="check-2", person="gita")),
    ("reader_was_seen_by_a_colleague", Breach(table="reading", row=READ_BY_BIRK)),
    (
        "reader_was_seen_by_a_colleague",
        Breach(
            table="reading",
            row=_row(build.reading(2, check="check-2", person="gita"), "reading"),
            before=(OTHER_CHECK, GITA_IN_THE_SECOND),
        ),
    ),
    *ALLOWED_OF_PEOPLE,
    ("unit_has_a_name_of_its_own", Breach(table="unit", row=WARD_6)),
    # What another was called before, and what one is called itself, however it is written.
    ("unit_has_a_name_of_its_own", Breach(table="unit", row={**WARD_6, "name_folded": "ward5"})),
    (
        "renamed_unit_has_a_name_of_its_own",
        Breach(table="unit_renamed", before=(("unit", WARD_6),), row=renaming("ward-5", 2, "WARD 5 North")),
    ),
    (
        "unit_is_renamed_in_order",
        Breach(table="unit_renamed", before=(("unit", WARD_6),), row=renaming("ward-6", 1, "Ward 6 North")),
    ),
    (
        "participant_is_not_the_third_person",
        _participant(OTHER_CHECK, THIRD_CHECK, check="check-3", person="femi"),
    ),
    ("participant_is_not_the_third_person", _participant(*ELSEWHERE, check="check-e", person="femi")),
    ("participant_is_not_the_third_person", _participant(OTHER_CHECK, check="check-2", person="gita")),
    ("help_taker_is_a_third_person", _help(OTHER_CHECK, THIRD_CHECK, check="check-3", person="amari")),
    ("help_taker_is_a_third_person", _help(OTHER_CHECK, GITA_IN_THE_SECOND, person="femi")),
)

# What is refused of a row that may change, by the rule's own name: statements of which the last is refused.
CHANGES: dict[str, tuple[tuple[str, ...], ...]] = {
    "log_head_goes_up_by_one": (
        # Back, the same, two on, below nothing.
        ("UPDATE log_head SET size = 0",),
        ("UPDATE log_head SET size = 1",),
        ("UPDATE log_head SET size = 3",),
        ("UPDATE log_head SET size = -1",),
        ("UPDATE log_head SET id = 2, size = 2",),
        # The place before stays empty.
        ("UPDATE log_head SET size = 2", "UPDATE log_head SET size = 3"),
    ),
    "person_keeps_id_login_and_staff_number": tuple(
        (f"UPDATE person SET {column} = 'free' WHERE id = 'dara'",)  # noqa: S608  # text of this file alone
        for column in ("id", "login", "staff_number", "login_folded", "staff_number_folded")
    ),
}
# And what is not.
ALLOWED_CHANGES: dict[str, tuple[tuple[str, ...], ...]] = {
    "log_head_goes_up_by_one": (("UPDATE log_head SET size = 2",),),
    "person_keeps_id_login_and_staff_number": (
        ("UPDATE person SET printed_name = 'Other', unit = 'ward-5', active = active WHERE id = 'dara'",),
    ),
}
