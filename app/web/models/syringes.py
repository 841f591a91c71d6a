"""The page of what did not add up: of each infusion its syringes, and who had them in hand; and its table."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import UTC, datetime
from fractions import Fraction
from itertools import groupby
from typing import Any

from app.people import Person
from app.records.followup import Severity
from app.records.handled import WITNESSED, Handled
from app.records.taken_back import BROKEN, SPILT, WASTED
from app.words.account import NOT_KNOWN
from app.words.handled import PARTS, WHAT
from app.words.screens import kind_words
from app.workflow.syringes import AccountApart, AccountsApart

_WANTS_A_WITNESS = (WASTED, SPILT, BROKEN)


@dataclass(frozen=True, kw_only=True)
class SyringeApart:
    """One syringe: what is left of it, and its difference."""

    name: str
    left: str
    volume: str
    amount: str


@dataclass(frozen=True, kw_only=True)
class Named:
    """One person, and which part they had; no staff number where no login stands behind a name."""

    part: str
    name: str
    staff_number: str = ""


@dataclass(frozen=True, kw_only=True)
class Done:
    """One thing that was done, when and by whom; `number` and `volume` as they were written, or blank."""

    at: datetime
    what: str
    number: str
    volume: str
    people: tuple[Named, ...]
    lacks_witness: bool = False


@dataclass(frozen=True, kw_only=True)
class InfusionApart:
    """One infusion; `says` is what was found of its account, but for notes."""

    infusion: str
    unit: str
    bed: str
    ended_at: datetime
    kind: str
    syringes: tuple[SyringeApart, ...]
    says: tuple[str, ...]
    done: tuple[Done, ...]


def infusions_apart(found: AccountsApart, units: Mapping[str, str]) -> tuple[InfusionApart, ...]:
    """Each infusion of the page; `units` names each unit."""
    return tuple(_infusion(each, found.people, units) for each in found.accounts)


def table_rows(infusions: tuple[InfusionApart, ...]) -> Iterator[dict[str, str]]:
    """The same as rows of the table: one a syringe, and one for each part that somebody had."""
    for each in infusions:
        where = {
            "infusion": each.infusion,
            "unit": each.unit,
            "bed": each.bed,
            "ended_at": _utc(each.ended_at),
        }
        for one in each.syringes:
            told = {"syringe": one.name, "left": one.left, "difference": one.volume}
            yield {"row": "syringe", **where, **told, "difference_amount": one.amount}
        for done in each.done:
            act = {"at": _utc(done.at), "what": done.what, "number": done.number, "volume": done.volume}
            for named in done.people:
                yield {"row": "person", **where, **act, **vars(named)}


def _utc(at: datetime) -> str:
    return f"{at.astimezone(UTC):%Y-%m-%d %H:%M:%SZ}"


def _infusion(apart: AccountApart, people: Mapping[str, Person], units: Mapping[str, str]) -> InfusionApart:
    row = apart.row
    done = [*_read(apart, people), *(_done(each, people) for each in apart.handled)]
    return InfusionApart(
        infusion=row.infusion,
        unit=units.get(row.unit, row.unit),
        bed=row.bed,
        ended_at=row.ended_at,
        kind=kind_words(row.kind),
        syringes=tuple(map(_syringe, apart.account["syringes"])),
        says=tuple(each["says"] for each in apart.account["findings"] if each["severity"] != Severity.NOTE),
        done=tuple(sorted(done, key=_when)),
    )


def _when(done: Done) -> datetime:
    return done.at


def _syringe(told: Mapping[str, Any]) -> SyringeApart:
    volume, amount = told["volume"], told["amount"]
    return SyringeApart(
        name=told["syringe"],
        left=_shown(volume, "left"),
        volume=_signed(volume),
        amount=_signed(amount),
    )


def _shown(places: Mapping[str, Any], name: str) -> str:
    found = places.get(name)
    return found["shown"] if found else NOT_KNOWN


def _signed(places: Mapping[str, Any]) -> str:
    """A difference, with plus where more is gone."""
    found = places.get("difference")
    return f"+{found['shown']}" if found and Fraction(found["exact"]) > 0 else _shown(places, "difference")


def _read(apart: AccountApart, people: Mapping[str, Person]) -> Iterator[Done]:
    """Who read at each check."""
    for (_, kind, opened_at), those in groupby(
        apart.involved, key=lambda each: (each.check, each.kind, each.opened_at)
    ):
        named = tuple(_named("read by", people.get(each.person)) for each in those)
        yield Done(at=opened_at, what=kind_words(kind), number="", volume="", people=named)


def _done(each: Handled, people: Mapping[str, Person]) -> Done:
    parts = {hand.part for hand in each.hands}
    return Done(
        at=each.at,
        what=WHAT[each.what],
        number=each.number,
        volume=each.volume,
        people=tuple(
            Named(part=PARTS[hand.part], name=hand.name)
            if hand.name
            else _named(PARTS[hand.part], people.get(hand.person))
            for hand in each.hands
        ),
        lacks_witness=each.what in _WANTS_A_WITNESS and WITNESSED not in parts,
    )


def _named(part: str, person: Person | None) -> Named:
    if person is None:
        return Named(part=part, name=NOT_KNOWN)
    return Named(part=part, name=person.printed_name, staff_number=person.staff_number)
