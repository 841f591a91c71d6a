"""What is vouched for and signed about a person's key says each of its facts: none can be exchanged."""

import json
from dataclasses import fields, replace
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest

from app.records.canonical import canonical
from app.records.kept_keys import IssuedCode, KeptKey, KeyConfirmation
from app.records.key_statements import (
    Holder,
    code_facts,
    confirmation_facts,
    confirmation_statement,
    is_about,
    key_facts,
)

AT = datetime(2031, 5, 2, 13, 5, 2, tzinfo=UTC)
CODE = IssuedCode(code="c0de", person="nadia", what="made", issuer="adele", issued_at=AT, attestation="")
KEY = KeptKey(
    kid="kid-1",
    person="nadia",
    algorithm="Ed25519",
    public="{}",
    made_at=AT,
    issuer="adele",
    made_on="a screen",
    attestation="",
)
HOLDER = Holder(person="nadia", login="n.ferrow", staff_number="DM-2001", printed_name="Nadia Ferrow")
CONFIRMATION = KeyConfirmation(
    kid="kid-1",
    confirmed_by="ruth",
    confirmed_at=AT,
    confirmer_kid="kid-2",
    statement=confirmation_statement(KEY, HOLDER, by="ruth", at=AT),
    jws="a..b",
    attestation="",
)


def other(value: Any) -> Any:  # noqa: ANN401  # a value of any field
    """Something of the same kind that is not it."""
    if isinstance(value, datetime):
        return value + timedelta(microseconds=1)
    return value + b"x" if isinstance(value, bytes) else f"{value}x"


def names(kind: type) -> list[str]:
    return [each.name for each in fields(kind) if each.name != "attestation"]


@pytest.mark.parametrize("name", names(IssuedCode))
def test_each_fact_of_a_code_counts(name: str) -> None:
    assert code_facts(replace(CODE, **{name: other(getattr(CODE, name))})) != code_facts(CODE)


@pytest.mark.parametrize("name", names(KeptKey))
def test_each_fact_of_a_key_counts(name: str) -> None:
    assert key_facts(replace(KEY, **{name: other(getattr(KEY, name))})) != key_facts(KEY)


@pytest.mark.parametrize("name", names(KeyConfirmation))
def test_each_fact_of_a_confirmation_counts(name: str) -> None:
    changed = replace(CONFIRMATION, **{name: other(getattr(CONFIRMATION, name))})
    assert confirmation_facts(changed) != confirmation_facts(CONFIRMATION)


def test_a_statement_is_in_its_one_form() -> None:
    assert canonical(json.loads(CONFIRMATION.statement)) == CONFIRMATION.statement


def test_a_confirmation_is_about_this_key_in_these_hands() -> None:
    assert is_about(CONFIRMATION, KEY, HOLDER)


@pytest.mark.parametrize("name", [each.name for each in fields(Holder)])
def test_and_about_nobody_else(name: str) -> None:
    assert not is_about(CONFIRMATION, KEY, replace(HOLDER, **{name: "somebody else"}))


@pytest.mark.parametrize("name", ["kid", "public"])
def test_nor_about_another_key(name: str) -> None:
    changed: dict[str, Any] = {name: "another"}
    assert not is_about(CONFIRMATION, replace(KEY, **changed), HOLDER)
