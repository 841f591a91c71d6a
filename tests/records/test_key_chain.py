"""From a key to the two with whom the keys of a site began; and what the log may not say about keys."""

from dataclasses import replace
from datetime import UTC, datetime
from typing import Any

import pytest

from app.records import events
from app.records.kept import Entry
from app.records.key_chain import Chain, Founding, KeyHistory, Link, NoChain, chain_of, history_of

AT = datetime(2031, 5, 2, 12, 10, tzinfo=UTC)


def made(person: str, issuer: str = "adele", kid: str = "") -> events.PersonalKeyMade:
    return events.PersonalKeyMade(
        person=person,
        kid=kid or f"key of {person}",
        algorithm="Ed25519",
        public="{}",
        issuer=issuer,
        made_on="",
        attestation="",
    )


def confirmed(person: str, by: str, **given: Any) -> events.PersonalKeyConfirmed:  # noqa: ANN401
    usual = {"kid": f"key of {person}", "confirmed_by": by, "confirmer_kid": f"key of {by}"}
    return events.PersonalKeyConfirmed(statement="", signature="", attestation="", **usual | given)


def founded(one: str, other: str, number: int = 1) -> events.KeysFounded:
    return events.KeysFounded(number=number, first_kid=f"key of {one}", second_kid=f"key of {other}")


def retired(person: str) -> events.PersonalKeyRetired:
    return events.PersonalKeyRetired(kid=f"key of {person}", why="reset")


def log(*told: events.Event) -> list[Entry]:
    rest: Any = {
        "at": AT,
        "by": "",
        "infusion": "",
        "check": "",
        "session": "",
        "device": "",
        "canonical": b"",
    }
    return [
        Entry(event=event, position=number, signed_in_at=None, **rest)
        for number, event in enumerate(told, start=1)
    ]


def faults(*told: events.Event) -> list[str]:
    history = KeyHistory()
    return [fault for entry in log(*told) if (fault := history.take(entry))]


def chain(kid: str, *told: events.Event) -> Chain | NoChain:
    history = history_of(log(*told))
    return chain_of(kid, history.links, history.foundings)


MADE = tuple(made(each) for each in ("farah", "felix", "nadia", "tomas"))
FOUNDED = (*MADE, founded("farah", "felix"), confirmed("farah", "felix"), confirmed("felix", "farah"))
GROWN = (*FOUNDED, confirmed("nadia", "felix"), confirmed("tomas", "nadia"))


def test_a_key_leads_over_its_confirmers_to_the_founding_two() -> None:
    assert faults(*GROWN) == []
    found = chain("key of tomas", *GROWN)
    assert found == Chain(
        kids=("key of tomas", "key of nadia", "key of farah", "key of felix"),
        founding=Founding(position=5, number=1, kids=("key of farah", "key of felix")),
    )
    assert history_of(log(*GROWN)).leads_to_founding("key of tomas")


def test_a_founder_s_key_leads_to_the_two_at_once() -> None:
    found = chain("key of felix", *FOUNDED)
    assert isinstance(found, Chain)
    assert set(found.kids) == {"key of farah", "key of felix"}


@pytest.mark.parametrize("who", ["nadia", "tomas"])
def test_two_who_confirm_each_other_without_founding_lead_nowhere(who: str) -> None:
    """One operator with two logins."""
    each_other = (*FOUNDED, confirmed("nadia", "tomas"), confirmed("tomas", "nadia"))
    assert isinstance(chain(f"key of {who}", *each_other), NoChain)
    assert not history_of(log(*each_other)).leads_to_founding(f"key of {who}")
    assert faults(*each_other) == ["with a key that was not confirmed before it"]


def test_a_key_that_nobody_confirmed_leads_nowhere() -> None:
    assert isinstance(chain("key of nadia", *FOUNDED), NoChain)
    assert isinstance(chain("no key", *FOUNDED), NoChain)


def test_a_confirmation_from_before_the_founding_founds_nothing() -> None:
    links = {
        kid: Link(kid=kid, confirmer_kid=own, position=position)
        for kid, own, position in (("a", "b", 1), ("b", "a", 3))
    }
    founding = Founding(position=2, number=1, kids=("a", "b"))
    assert isinstance(chain_of("a", links, [founding]), NoChain)
    later = {**links, "a": replace(links["a"], position=4)}
    assert isinstance(chain_of("a", later, [founding]), Chain)


def test_confirming_in_a_ring_never_ends_the_walk() -> None:
    links = {
        kid: Link(kid=kid, confirmer_kid=own, position=position)
        for kid, own, position in (("a", "b", 3), ("b", "c", 2), ("c", "a", 1))
    }
    assert isinstance(chain_of("a", links, []), NoChain)


@pytest.mark.parametrize(
    ("told", "fault"),
    [
        ((confirmed("nadia", "felix", kid="no key"),), "a key that was not made"),
        ((confirmed("nadia", "felix", confirmer_kid="no key"),), "a key that was not made"),
        ((confirmed("nadia", "felix"), confirmed("nadia", "farah")), "was confirmed before"),
        ((confirmed("nadia", "farah", confirmer_kid="key of felix"),), "a key of their own"),
        ((confirmed("nadia", "nadia"),), "not by a second person"),
        ((made("oona", issuer="felix"), confirmed("oona", "felix")), "not by a second person"),
        ((retired("felix"), confirmed("nadia", "felix")), "that was retired"),
        ((retired("nadia"), confirmed("nadia", "felix")), "that was retired"),
        ((confirmed("nadia", "tomas"),), "not confirmed before it"),
        ((founded("nadia", "tomas", 2),), "while confirmed keys were in use"),
        ((retired("farah"), retired("felix"), founded("nadia", "tomas", 1)), "and is founding 2"),
        (
            (retired("farah"), retired("felix"), founded("nadia", "tomas", 2), confirmed("nadia", "felix")),
            "that was retired",
        ),
    ],
)
def test_what_the_log_may_not_say(told: tuple[events.Event, ...], fault: str) -> None:
    (found,) = faults(*FOUNDED, *told)
    assert fault in found


def test_nobody_founds_with_somebody_who_is_not_named() -> None:
    told = (*MADE, founded("farah", "felix"), confirmed("nadia", "felix"))
    assert faults(*told) == ["with a key that was not confirmed before it"]
    assert faults(*MADE, confirmed("farah", "felix")) == ["with a key that was not confirmed before it"]


def test_when_every_confirmed_key_was_lost_two_begin_anew_and_it_is_counted() -> None:
    anew = (
        *(retired("farah"), retired("felix")),
        *(founded("nadia", "tomas", 2), confirmed("nadia", "tomas"), confirmed("tomas", "nadia")),
    )
    assert faults(*FOUNDED, *anew) == []
    found = chain("key of tomas", *FOUNDED, *anew)
    assert isinstance(found, Chain)
    assert found.founding.number == 2
    # What was confirmed before stays what it was.
    assert isinstance(chain("key of felix", *FOUNDED, *anew), Chain)


def test_founding_is_open_while_no_confirmed_key_is_in_use() -> None:
    assert history_of(log(*MADE)).is_open_to_founding
    assert not history_of(log(*FOUNDED)).is_open_to_founding
    assert not history_of(log(*FOUNDED, retired("farah"))).is_open_to_founding
    assert history_of(log(*FOUNDED, retired("farah"), retired("felix"))).is_open_to_founding


def test_other_entries_say_nothing_of_keys() -> None:
    assert faults(events.SecurityNoted(person="nadia", what="signed in")) == []
