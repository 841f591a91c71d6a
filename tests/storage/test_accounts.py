"""The rows that may change: accounts, sessions, drafts, throttles, leases."""

from dataclasses import replace
from typing import Any

import pytest

from app.people import Person, Role
from app.records.kept import Throttle
from app.storage import ConstraintBroken, Store
from tests.storage import builders as build
from tests.storage.builders import NOW, later


def amari(**given: Any) -> Person:  # noqa: ANN401  # any field of a person
    """A colleague has confirmed her key."""
    return build.person(**given, key_confirmed=True)


def test_an_account_is_found_by_id_and_by_login(ward: Store) -> None:
    with ward.read() as reader:
        assert reader.find_person("amari") == reader.find_person_by_login("amari") == amari()
        assert [person.id for person in reader.people()] == [*build.PEOPLE, *build.WITHOUT_CODE]


@pytest.mark.parametrize("typed", ["STRASSE", "straße", " Strasse ", "ｓｔｒａｓｓｅ"])  # noqa: RUF001  # full-width letters
def test_case_and_width_of_a_login_do_not_count(ward: Store, typed: str) -> None:
    with ward.write() as tx:
        tx.add_person(build.person("esra", login="Straße"))
    with ward.read() as reader:
        found = reader.find_person_by_login(typed)
    assert found is not None
    assert (found.id, found.login) == ("esra", "Straße")


def test_two_spellings_of_a_login_are_one(ward: Store) -> None:
    with pytest.raises(ConstraintBroken, match="login_unique"), ward.write() as tx:
        tx.add_person(build.person("esra", login="AMARI"))


def test_a_person_may_hold_several_roles(ward: Store) -> None:
    roles = frozenset({Role.NURSE, Role.CHARGE_NURSE})
    with ward.write() as tx:
        tx.set_roles("amari", roles)
    with ward.read() as reader:
        assert [person.roles for person in reader.people()] == [roles, *[frozenset({Role.NURSE})] * 5]
    with ward.write() as tx:
        tx.set_roles("amari", frozenset({Role.QUALITY}))
    with ward.read() as reader:
        found = reader.find_person("amari")
    assert found is not None
    assert found.roles == {Role.QUALITY}


def test_a_code_voids_the_secret_and_a_secret_spends_the_code(ward: Store) -> None:
    with ward.write() as tx:
        tx.set_code("amari", "hash of a code", later(60))
        assert tx.find_person("amari") == amari(code_hash="hash of a code", code_expires_at=later(60))
        tx.set_secret("amari", "hash of a secret")
        assert tx.find_person("amari") == amari(secret_hash="hash of a secret")
        tx.set_active("amari", active=False)
        assert tx.find_person("amari") == amari(secret_hash="hash of a secret", active=False)


def test_an_unknown_account_cannot_be_changed(ward: Store) -> None:
    with pytest.raises(LookupError), ward.write() as tx:
        tx.set_secret("nobody", "hash")


def test_a_session_is_used_and_ended(ward: Store) -> None:
    with ward.write() as tx:
        tx.add_session(build.session())
        tx.touch_session("session of amari", later(1))
        assert tx.find_session("session of amari") == build.session(last_seen_at=later(1))
        tx.end_session("session of amari", later(2))
        tx.end_session("session of amari", later(3))
        assert tx.find_session("session of amari") == build.session(last_seen_at=later(1), ended_at=later(2))


def test_all_of_a_person_s_sessions_end_but_one(ward: Store) -> None:
    with ward.write() as tx:
        for digest in ("one", "two", "three"):
            tx.add_session(build.session(digest=digest))
        tx.add_session(build.session("birk"))
        tx.end_session("one", later(1))
        tx.end_sessions_of("amari", later(2), but="two")
        found = [tx.find_session(digest) for digest in ("one", "two", "three", "session of birk")]
        assert [each and each.ended_at for each in found] == [later(1), None, later(2), None]
        tx.end_sessions_of("amari", later(3))
        found = [tx.find_session(digest) for digest in ("one", "two", "three", "session of birk")]
        assert [each and each.ended_at for each in found] == [later(1), later(3), later(2), None]


def test_a_draft_is_saved_only_over_the_version_that_was_seen(ward: Store) -> None:
    """Two tabs of one person: the second one to save is told, and the first one's words stay."""
    first, second = build.draft(), build.draft(version=2, saved_at=later(1))
    with ward.write() as tx:
        assert tx.save_draft(first, expected_version=0)
        assert not tx.save_draft(replace(first, saved_at=later(9)), expected_version=0)
        assert tx.drafts("check-1", 2, "amari") == {"sources": first}
        assert tx.save_draft(second, expected_version=1)
        assert not tx.save_draft(build.draft(version=2), expected_version=1)
        assert tx.drafts("check-1", 2, "amari") == {"sources": second}
        assert not tx.save_draft(build.draft(round=3, version=5), expected_version=4)
        assert tx.drafts("check-1", 3, "amari") == {}


def test_the_drafts_of_a_round_are_forgotten(ward: Store) -> None:
    with ward.write() as tx:
        for person in ("amari", "birk"):
            for number in (1, 2):
                tx.save_draft(build.draft(person=person, round=number), expected_version=0)
        tx.delete_drafts("check-1", "sources", 1, "amari")
        left = [(p, n) for p in ("amari", "birk") for n in (1, 2) if tx.drafts("check-1", n, p)]
        assert left == [("amari", 2), ("birk", 1), ("birk", 2)]
        tx.delete_drafts("check-1", "sources", 2)
        left = [(p, n) for p in ("amari", "birk") for n in (1, 2) if tx.drafts("check-1", n, p)]
        assert left == [("birk", 1)]


@pytest.mark.parametrize("given", [{"person": "dara"}, {"envelope": b"short"}], ids=["stranger", "size"])
def test_a_draft_is_by_one_of_the_two_and_of_one_size(ward: Store, given: dict[str, object]) -> None:
    with pytest.raises(ConstraintBroken, match="draft_"), ward.write() as tx:
        tx.save_draft(build.draft(**given), expected_version=0)


def test_a_throttle_counts_and_is_cleared(ward: Store) -> None:
    with ward.write() as tx:
        tx.set_throttle(Throttle(key="amari", failures=1, not_before=None))
        tx.set_throttle(Throttle(key="amari", failures=2, not_before=later(1)))
        assert tx.find_throttle("amari") == Throttle(key="amari", failures=2, not_before=later(1))
        tx.clear_throttle("amari")
        assert tx.find_throttle("amari") is None


def test_a_lease_is_held_by_one_until_it_runs_out(ward: Store) -> None:
    with ward.write() as tx:
        assert tx.take_lease("sweeper", "one", now=NOW, until=later(1))
        assert not tx.take_lease("sweeper", "two", now=NOW, until=later(1))
        assert tx.take_lease("sweeper", "one", now=NOW, until=later(2))
        assert not tx.take_lease("sweeper", "two", now=later(1), until=later(3))
        assert tx.take_lease("sweeper", "two", now=later(2), until=later(3))
        assert not tx.take_lease("sweeper", "one", now=later(2), until=later(3))
        assert tx.take_lease("other", "two", now=NOW, until=later(1))
