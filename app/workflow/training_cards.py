"""Cards for training: drawn from a seed, printed, and sealed in the log until the check on them has ended."""

import json
from base64 import b64decode, b64encode
from collections.abc import Mapping
from dataclasses import asdict, dataclass
from datetime import datetime, timedelta
from typing import TypeVar

from app.base import Act
from app.keys import open_envelope, seal
from app.records.canonical import canonical
from app.records.rules import LIBRARY, PACKS, POLICY, Rules, without_sources
from app.records.training_events import CardSetDealt, CardSetTaken
from app.reports.training_cards import PrintedSet, render_cards
from app.review.cards import CardSet, Dealt, NothingUsual, answers_on, deal
from app.review.errors import Error
from app.review.mixes import Mix
from app.review.true_cases import Against
from app.site.installation import Site, is_for_training
from app.site.loading import rules_in_force
from app.storage import Reader, Transaction
from app.workflow.queueing import one_at_a_time

_SEALED_SIZE = 8 * 1024
_GOOD_FOR = timedelta(days=365)


@dataclass(frozen=True, kw_only=True)
class Cards:
    """The sets from `first` to `last`, as a PDF."""

    first: int
    last: int
    pdf: bytes


@dataclass(frozen=True)
class NotForTraining:
    """Cards are dealt in an installation for training alone: elsewhere a bed is real."""


@dataclass(frozen=True)
class NoSuchCards:
    """No set of this number waits for its check: it was never dealt here, or a check was done on it."""


def deal_cards(
    site: Site, now: datetime, *, seed: str, mix: Mix, sets: int
) -> Cards | NotForTraining | NothingUsual:
    """Deal sets of cards by the rules in force; nobody can read out of the database what is on them."""
    with site.store.write() as tx:
        if not is_for_training(tx):
            return NotForTraining()
        one_at_a_time(tx, "dealing cards", now)
        rules = rules_in_force(tx, now)
        against = Against(
            policy=without_sources(rules.content(POLICY))["engine"],
            library=without_sources(rules.content(LIBRARY))["drugs"],
        )
        first = len(_told(tx, CardSetDealt)) + 1
        printed = []
        for place in range(sets):
            number = first + place
            dealt = Dealt(seed=seed, mix=mix.name, weights=mix.weights, place=place, number=number)
            made = deal(dealt, against)
            if isinstance(made, NothingUsual):
                return tx.refuse(made)
            tx.append(CardSetDealt(number=number, sealed=_sealed(site, number, made)), at=now)
            printed.append(_printed(number, made, rules, now))
        hospital = rules.policy.site
    pdf = render_cards(tuple(printed), hospital=hospital, at=now)
    return Cards(first=first, last=first + sets - 1, pdf=pdf)


def _printed(number: int, made: CardSet, rules: Rules, now: datetime) -> PrintedSet:
    pack = rules.content(PACKS)["packs"][0]
    label = {**made.sources["label"], "use_by": (now + _GOOD_FOR).date().isoformat()}
    also = {"lot": f"LOT-{number}", "pack": pack["key"]}
    return PrintedSet(
        number=number,
        answers=answers_on({**made.sources, "label": label}, also),
        packs={pack["key"]: pack["words"]},
    )


def _sealed(site: Site, number: int, made: CardSet) -> str:
    content = canonical(asdict(made))
    return b64encode(seal(site.key, _context(number), content, size=_SEALED_SIZE)).decode()


def refuse_cards(tx: Transaction, number: str, now: datetime) -> NoSuchCards | None:
    """Why no check can be done on this set of cards; blank is a check without any."""
    if not number:
        return None
    one_at_a_time(tx, "taking cards", now)
    dealt = {str(each.number) for each in _told(tx, CardSetDealt)}
    taken = {str(each.number) for each in _told(tx, CardSetTaken)}
    return None if is_for_training(tx) and number in dealt - taken else NoSuchCards()


def take_cards(tx: Transaction, act: Act, check: str, number: str) -> None:
    """Write down that a check is done on a set of cards; blank is none."""
    if number:
        tx.append(CardSetTaken(number=int(number)), act=act, check=check)


def sealed_cards(reader: Reader) -> dict[int, str]:
    """Every set that was dealt, sealed, by its number."""
    return {each.number: each.sealed for each in _told(reader, CardSetDealt)}


def find_cards(
    site: Site, reader: Reader, check: str, *, dealt: Mapping[int, str] | None = None
) -> tuple[int, CardSet] | None:
    """The set that a check was done on, by its number: for whoever has seen that the check has ended."""
    told = (each.event for each in reader.entries(check))
    number = next((each.number for each in told if isinstance(each, CardSetTaken)), None)
    if number is None:
        return None
    sealed = (sealed_cards(reader) if dealt is None else dealt)[number]
    content = open_envelope(site.key, _context(number), b64decode(sealed), size=_SEALED_SIZE)
    made = json.loads(content)
    error = Error(made["error"]) if made["error"] else None
    return number, CardSet(sources=made["sources"], error=error, fields=tuple(made["fields"]))


_Told = TypeVar("_Told", CardSetDealt, CardSetTaken)


def _told(reader: Reader, kind: type[_Told]) -> list[_Told]:
    events = (each.event for each in reader.entries_of_kind(kind.kind))
    return [each for each in events if isinstance(each, kind)]


def _context(number: int) -> tuple[str, ...]:
    return ("training cards", str(number))
