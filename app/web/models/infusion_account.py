"""The account of an infusion as its page shows it: of each syringe a picture and a statement."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import datetime
from fractions import Fraction
from typing import Any

from app.accounting.lasting import Lasting, Pace
from app.accounting.places import Places
from app.judging.account import found_in
from app.records.followup import OF_PATIENT, Severity
from app.reports.account_picture import Hatching, Part, bar_of
from app.reports.canvas import Svg
from app.site.lasting import AccountRead
from app.words.account import ADDS_UP, ENDS, NOT_COUNTED, NOT_KNOWN, PACES, PLACES, VERDICTS, verdict_of

_HATCHED: Mapping[str, Hatching] = {
    "primed": Hatching.DOWN,
    "delivered_by_device": Hatching.FULL,
    "not_read": Hatching.DOTTED,
    "wasted": Hatching.RISING,
    "returned": Hatching.ACROSS,
    "kept": Hatching.FALLING,
    "left": Hatching.EMPTY,
    "difference": Hatching.CROSSED,
}
# Of these none is said where it is nothing.
_SELDOM = frozenset({"not_read", "wasted", "returned", "kept", "difference"})


@dataclass(frozen=True, kw_only=True)
class PlaceRow:
    """One place, with what went there in volume and in mass."""

    label: str
    volume: str
    amount: str


@dataclass(frozen=True, kw_only=True)
class SyringeShown:
    """One syringe: picture, statement, and how it adds up; `counted_at` is when it was counted last."""

    name: str
    picture: Svg
    rows: tuple[PlaceRow, ...]
    counted_at: datetime | None
    verdict: str
    adds_up: bool


@dataclass(frozen=True, kw_only=True)
class Statement:
    """The account as a statement; of a single syringe nothing is said `together`.

    `of_patient` are findings that are about the patient first, `others` about the account alone.
    """

    syringes: tuple[SyringeShown, ...]
    together: tuple[PlaceRow, ...]
    of_patient: tuple[str, ...]
    others: tuple[str, ...]


@dataclass(frozen=True, kw_only=True)
class LastsRow:
    """At one pace: until when, and why not longer."""

    label: str
    until: datetime
    why: str


@dataclass(frozen=True, kw_only=True)
class LastingShown:
    """The syringe that is on, and until when it lasts; `is_read`: somebody has read what is left of it."""

    syringe: str
    on_since: datetime
    is_read: bool
    rows: tuple[LastsRow, ...]
    use_by: datetime | None
    in_use_until: datetime | None
    ask_by: datetime | None
    ask_by_at_full_use: datetime | None
    has_next: bool
    is_low: bool


def statement_of(account: AccountRead) -> Statement:
    """Each syringe of the infusion, in the order in which they came in, and all of them together."""
    written = account.result.as_json()
    syringes = tuple(
        _syringe(account, each.places.volume, told)
        for each, told in zip(account.result.syringes, written["syringes"], strict=True)
    )
    together = tuple(_rows(account.result.infusion.volume, written["infusion"]))
    found, new = (
        [each for each in some if each.severity in (Severity.STOP, Severity.CAUTION)]
        for some in (
            found_in(written, has_ended=account.has_ended),
            found_in(written, has_ended=account.has_ended, told=account.looked_into),
        )
    )
    of_patient = tuple(each.says for each in new if each.about == OF_PATIENT)
    # What comparisons leave to lists: a syringe that came off, and still holds something.
    in_hand = (each["says"] for each in written["findings"] if each["code"] == "in-hand")
    return Statement(
        syringes=syringes,
        together=together if len(syringes) > 1 else (),
        of_patient=of_patient,
        others=(*(each.says for each in found if each.says not in of_patient), *in_hand),
    )


def _syringe(account: AccountRead, volume: Places, told: Mapping[str, Any]) -> SyringeShown:
    rows = tuple(_rows(volume, told))
    verdict = verdict_of(told)
    counted = told["left_at"]
    says = f"Syringe {told['syringe']}: {'; '.join(f'{row.label} {row.volume}' for row in rows)}."
    return SyringeShown(
        name=told["syringe"],
        picture=bar_of(_parts(volume, told), whole=volume.loaded, says=says),
        rows=rows,
        counted_at=None if counted is None else account.account.entries[counted].at,
        verdict=VERDICTS.get(verdict, NOT_COUNTED),
        adds_up=verdict in _ADDS_UP,
    )


_ADDS_UP = ADDS_UP | {""}


def _rows(volume: Places, told: Mapping[str, Any]) -> Iterator[PlaceRow]:
    for name, words in PLACES.items():
        if name in _SELDOM and not _is_there(volume, name):
            continue
        yield PlaceRow(label=words, volume=_shown(told["volume"], name), amount=_shown(told["amount"], name))


def _is_there(volume: Places, name: str) -> bool:
    """Whether anything is there, or nobody knows."""
    amount: Fraction | None = getattr(volume, name)
    return amount != 0


def _shown(places: Mapping[str, Any], name: str) -> str:
    found = places.get(name)
    return found["shown"] if found else NOT_KNOWN


def _parts(volume: Places, told: Mapping[str, Any]) -> Iterator[Part]:
    rest = volume.loaded
    for name, hatching in _HATCHED.items():
        amount = getattr(volume, name)
        if amount is None:
            continue
        rest -= amount
        yield Part(volume=amount, hatching=hatching, words=PLACES[name], figure=_shown(told["volume"], name))
    if volume.difference is None:
        yield Part(volume=rest, hatching=Hatching.OPEN, words="Where the rest is", figure=NOT_KNOWN)


def lasting_shown(lasting: Lasting, now: datetime) -> LastingShown:
    """Until when the syringe that is on lasts."""
    return LastingShown(
        syringe=lasting.syringe,
        on_since=lasting.on_since,
        is_read=bool(lasting.empty),
        rows=tuple(_paces(lasting)),
        use_by=lasting.use_by,
        in_use_until=lasting.in_use_until,
        ask_by=lasting.ask_by,
        ask_by_at_full_use=lasting.ask_by_at_full_use,
        has_next=lasting.has_next,
        is_low=lasting.is_low(now),
    )


def _paces(lasting: Lasting) -> Iterator[LastsRow]:
    for pace in Pace:
        ends = lasting.end(pace)
        if pace in lasting.empty and ends is not None:
            until, why = ends
            yield LastsRow(label=PACES[pace], until=until, why=ENDS[why])
