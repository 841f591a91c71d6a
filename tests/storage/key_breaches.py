# ruff: noqa: ANN401  # a row holds values of every kind
"""Rows of keys and checkpoints that the database must refuse, and the name under which it does."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from app.storage import tables
from app.storage.rows import as_row
from tests.storage import builders as build
from tests.storage import key_builders as keys

NEXT_PLACE = "UPDATE log_head SET size = size + 1"


@dataclass(frozen=True, kw_only=True)
class Breach:
    """A row that a table must refuse, and the name under which it does; `before` makes the stage for it."""

    table: str
    row: Mapping[str, Any]
    before: tuple[tuple[str, Mapping[str, Any]], ...] = ()
    prepare: str = ""


def row_of(kept: Any, table: str, **more: Any) -> dict[str, Any]:
    return as_row(kept, tables.metadata.tables[table]) | more


def _key(*person: str, **given: Any) -> dict[str, Any]:
    return row_of(keys.key(*person, **given), "personal_key")


def _confirmation(*people: str, **given: Any) -> dict[str, Any]:
    return row_of(keys.confirmation(*people, **given), "key_confirmation")


def _authenticator(*person: str, **given: Any) -> dict[str, Any]:
    return row_of(keys.authenticator(*person, **given), "authenticator")


OTHER_EDITION = ("frozen", row_of(build.frozen(edition=2, digest="other"), "frozen"))


AMARI_RETIRED = ("key_retirement", row_of(keys.retirement("amari"), "key_retirement"))


def _signature(*before: tuple[str, Mapping[str, Any]], **given: Any) -> Breach:
    signed = build.signature(1, edition=2, digest="other", **given)
    return Breach(table="signature", row=row_of(signed, "signature"), before=(OTHER_EDITION, *before))


# The stage is `fill`: amari and birk confirmed each other's keys, chidi's waits, dara's is retired.
KEY_BREACHES: dict[str, Breach] = {
    "one_issue_a_code": Breach(table="issued_code", row=row_of(keys.issued_code(), "issued_code")),
    "code_for_known_person": Breach(
        table="issued_code", row=row_of(keys.issued_code("nobody"), "issued_code")
    ),
    "authenticator_id_unique": Breach(table="authenticator", row=_authenticator()),
    "authenticator_of_known_person": Breach(
        table="authenticator", row=_authenticator("nobody", id="another")
    ),
    "kind_of_authenticator": Breach(table="authenticator", row=_authenticator(id="another", kind="token")),
    "told_once_of_a_code": Breach(table="code_told", row=row_of(keys.code_told(), "code_told")),
    "told_of_known_code": Breach(table="code_told", row=row_of(keys.code_told(code="no code"), "code_told")),
    "told_to_known_person": Breach(
        table="code_told", row=row_of(keys.code_told(person="nobody"), "code_told")
    ),
    "personal_key_unique": Breach(table="personal_key", row=_key("dara", kid="key of amari")),
    "key_of_known_person": Breach(table="personal_key", row=_key("nobody")),
    "one_live_key_a_person": Breach(table="personal_key", row=_key("amari", kid="another")),
    "one_sealed_half_a_key": Breach(
        table="personal_key_sealed", row={"kid": "key of amari", "sealed": b"another"}
    ),
    "sealed_half_of_known_key": Breach(
        table="personal_key_sealed", row={"kid": "no key", "sealed": b"another"}
    ),
    "retired_key_stays_closed": Breach(
        table="personal_key_sealed", row={"kid": "key of dara", "sealed": b"another"}
    ),
    "one_confirmation_a_key": Breach(table="key_confirmation", row=_confirmation("amari", "birk")),
    "confirmation_of_known_key": Breach(table="key_confirmation", row=_confirmation("chidi", kid="none")),
    "confirmer_signs_with_own_key": Breach(
        table="key_confirmation", row=_confirmation("chidi", "amari", confirmer_kid="key of birk")
    ),
    "confirmed_by_a_second_person": Breach(table="key_confirmation", row=_confirmation("amari", "amari")),
    # Chidi's own key waits.
    "confirmed_with_a_confirmed_key": Breach(
        table="key_confirmation",
        row=_confirmation("dara", "chidi", kid="new key of dara"),
        before=(("personal_key", _key("dara", kid="new key of dara")),),
    ),
    "retired_key_is_not_confirmed": Breach(table="key_confirmation", row=_confirmation("dara", "birk")),
    "one_retirement_a_key": Breach(
        table="key_retirement", row=row_of(keys.retirement("dara"), "key_retirement")
    ),
    "retirement_of_known_key": Breach(
        table="key_retirement", row=row_of(keys.retirement(kid="no key"), "key_retirement")
    ),
    "site_key_unique": Breach(table="site_key", row=row_of(keys.site_key(), "site_key")),
    "purpose_of_site_key": Breach(
        table="site_key", row=row_of(keys.site_key(kid="k", purpose="other"), "site_key")
    ),
    "checkpoint_by_known_key": Breach(
        table="checkpoint",
        row=row_of(keys.checkpoint(size=2, kid="no key"), "checkpoint"),
        prepare=NEXT_PLACE,
    ),
    "checkpoints_only_grow": Breach(table="checkpoint", row=row_of(keys.checkpoint(size=1), "checkpoint")),
    "checkpoint_is_of_this_log": Breach(
        table="checkpoint", row=row_of(keys.checkpoint(size=2), "checkpoint")
    ),
    "one_root_a_block": Breach(table="log_block", row={"number": 0, "root": "1" * 64}),
    "signed_with_own_confirmed_key": _signature(kid="key of birk", jws="a..b"),
    # A session that six digits opened signs nothing by itself.
    "signed_with_id_and_secret": Breach(
        table="signature",
        row=row_of(build.signature(1, edition=2, digest="other", session="by digits"), "signature"),
        before=(
            OTHER_EDITION,
            ("session", row_of(build.session(digest="by digits", method="pin"), "session")),
        ),
    ),
    "shift_session_id_unique": Breach(
        table="shift_session", row=row_of(build.shift_session(), "shift_session")
    ),
    "shift_session_of_known_person": Breach(
        table="shift_session", row=row_of(build.shift_session(id="s", person="nobody"), "shift_session")
    ),
}

# Further ways to break a rule that the list above breaks once.
MORE_KEY_BREACHES: tuple[tuple[str, Breach], ...] = (
    # Whoever gave the code does not confirm the key that was made with it.
    (
        "confirmed_by_a_second_person",
        Breach(
            table="key_confirmation",
            row=_confirmation("dara", "birk", kid="new key of dara"),
            before=(("personal_key", _key("dara", kid="new key of dara", issuer="birk")),),
        ),
    ),
    # A retired key confirms nobody.
    (
        "retired_key_is_not_confirmed",
        Breach(
            table="key_confirmation",
            row=_confirmation("chidi", "birk"),
            before=(("key_retirement", row_of(keys.retirement("birk"), "key_retirement")),),
        ),
    ),
    ("checkpoints_only_grow", Breach(table="checkpoint", row=row_of(keys.checkpoint(size=0), "checkpoint"))),
    # Nobody signs with a key that does not exist, was not confirmed, or without its signature.
    ("signed_with_own_confirmed_key", _signature(kid="no key", jws="a..b")),
    ("signed_with_own_confirmed_key", _signature(kid="key of amari", jws="")),
    ("signed_with_own_confirmed_key", _signature(kid="", jws="a..b")),
    ("signed_with_own_confirmed_key", _signature(kid="", jws="")),
    # Confirmed, and retired since.
    ("signed_with_own_confirmed_key", _signature(AMARI_RETIRED, kid="key of amari", jws="a..b")),
    # In force, and not confirmed yet.
    (
        "signed_with_own_confirmed_key",
        _signature(
            AMARI_RETIRED,
            ("personal_key", _key("amari", kid="new key of amari")),
            kid="new key of amari",
            jws="a..b",
        ),
    ),
)

# What the same rules let through, by the rule's own name.
ALLOWED_KEYS: tuple[tuple[str, Breach], ...] = (
    # A colleague's session that six digits opened is no reason against one's own signature.
    (
        "signature_is_not_by_six_digits",
        _signature(
            ("session", row_of(build.session(digest="by digits", method="pin"), "session")),
            session="session of amari",
        ),
    ),
)
