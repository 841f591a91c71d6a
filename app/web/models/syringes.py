"""The page of what did not add up: of each infusion its syringes, and who read at its checks."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import datetime
from itertools import groupby
from typing import Any

from app.words.account import NOT_KNOWN
from app.words.screens import kind_words
from app.workflow.syringes import AccountApart, AccountsApart


@dataclass(frozen=True, kw_only=True)
class SyringeApart:
    """One syringe: what is left of it, and its difference."""

    name: str
    left: str
    volume: str
    amount: str


@dataclass(frozen=True, kw_only=True)
class WhoRead:
    """One check of the infusion, and its people."""

    kind: str
    opened_at: datetime
    people: tuple[str, ...]


@dataclass(frozen=True, kw_only=True)
class InfusionApart:
    """One infusion; `says` are what stopped its account."""

    infusion: str
    unit: str
    bed: str
    ended_at: datetime
    kind: str
    syringes: tuple[SyringeApart, ...]
    says: tuple[str, ...]
    checks: tuple[WhoRead, ...]


def infusions_apart(found: AccountsApart, units: Mapping[str, str]) -> tuple[InfusionApart, ...]:
    """Each infusion of the page; `units` names each unit."""
    return tuple(_infusion(each, found.people, units) for each in found.accounts)


def _infusion(apart: AccountApart, people: Mapping[str, str], units: Mapping[str, str]) -> InfusionApart:
    row = apart.row
    return InfusionApart(
        infusion=row.infusion,
        unit=units.get(row.unit, row.unit),
        bed=row.bed,
        ended_at=row.ended_at,
        kind=kind_words(row.kind),
        syringes=tuple(map(_syringe, apart.account["syringes"])),
        says=tuple(each["says"] for each in apart.account["findings"] if each["severity"] == "stop"),
        checks=tuple(_checks(apart, people)),
    )


def _syringe(told: Mapping[str, Any]) -> SyringeApart:
    volume, amount = told["volume"], told["amount"]
    return SyringeApart(
        name=told["syringe"],
        left=_shown(volume, "left"),
        volume=_shown(volume, "difference"),
        amount=_shown(amount, "difference"),
    )


def _shown(places: Mapping[str, Any], name: str) -> str:
    found = places.get(name)
    return found["shown"] if found else NOT_KNOWN


def _checks(apart: AccountApart, people: Mapping[str, str]) -> Iterator[WhoRead]:
    for (_, kind, opened_at), those in groupby(
        apart.involved, key=lambda each: (each.check, each.kind, each.opened_at)
    ):
        names = tuple(people.get(each.person, "") for each in those)
        yield WhoRead(kind=kind_words(kind), opened_at=opened_at, people=names)
