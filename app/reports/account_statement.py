"""The account of the infusion on a record: where each millilitre of each syringe went, by the engine."""

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from app.records.followup import Found, Severity
from app.reports.readings import Line, Row
from app.words.account import NOT_COUNTED, NOT_KNOWN, PLACES, VERDICTS, verdict_of

# These are said also where nothing went there; of the others none is.
_ALWAYS = frozenset({"loaded", "primed", "delivered_by_device", "left"})


@dataclass(frozen=True, kw_only=True)
class StatementShown:
    """One syringe, or all of them together: its places, and how they add up."""

    title: str
    rows: tuple[Row, ...]
    verdict: str


def statements_of(account: Mapping[str, Any] | None) -> tuple[StatementShown, ...]:
    """The statements of an account, at its end or as a comparison came to it; none where there was none."""
    result = account["result"] if account else None
    if result is None:
        return ()
    syringes = result["syringes"]
    named = account.get("syringes", {}) if account else {}
    shown = tuple(_statement(_title(each["syringe"], named), each) for each in syringes)
    return shown if len(syringes) == 1 else (*shown, _statement("All syringes", result["infusion"]))


def _title(syringe: str, named: Mapping[str, Mapping[str, str]]) -> str:
    """Which syringe; at the end of drug and lot, which the labels said."""
    told = named.get(syringe, {})
    return ", ".join([f"Syringe {syringe}", *(told[each] for each in ("drug", "lot") if told.get(each))])


def closing_says(account: Mapping[str, Any] | None) -> tuple[str, ...]:
    """What the account says against itself at its end; of one that goes on the findings say it."""
    return () if account is None else tuple(each["says"] for each in _stops(account))


def is_left_open(document: Mapping[str, Any], findings: Iterable[Found]) -> bool:
    """Whether both sign of the account that it is open."""
    account = document.get("account")
    return any(each.is_of_account for each in findings) or (account is not None and bool([*_stops(account)]))


def _stops(account: Mapping[str, Any]) -> Iterator[Mapping[str, Any]]:
    return (each for each in account["result"]["findings"] if each["severity"] == Severity.STOP)


def _statement(title: str, told: Mapping[str, Any]) -> StatementShown:
    verdict = VERDICTS.get(verdict_of(told), NOT_COUNTED)
    return StatementShown(title=title, rows=tuple(_rows(told)), verdict=verdict)


def _rows(told: Mapping[str, Any]) -> Iterator[Row]:
    for name, words in PLACES.items():
        if name not in told["volume"]:
            continue
        volume, amount = told["volume"][name], told["amount"][name]
        if name not in _ALWAYS and volume is not None and volume["exact"] == "0":
            continue
        lines = (Line(who="", sources=(), text=_shown(volume)), Line(who="", sources=(), text=_shown(amount)))
        yield Row(label=words, lines=lines)


def _shown(quantity: Mapping[str, str] | None) -> str:
    return quantity["shown"] if quantity else NOT_KNOWN
