"""The account of the infusion on a record: where each millilitre of each syringe went, by the engine."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from app.reports.readings import Line, Row
from app.words.account import NOT_COUNTED, NOT_KNOWN, PLACES, VERDICTS

# These are said also where nothing went there; of the others none is.
_ALWAYS = frozenset({"loaded", "primed", "delivered_by_device", "left"})


@dataclass(frozen=True, kw_only=True)
class StatementShown:
    """One syringe, or all of them together: its places, and how they add up."""

    title: str
    rows: tuple[Row, ...]
    verdict: str


def statements_of(comparison: Mapping[str, Any]) -> tuple[StatementShown, ...]:
    """The statements of the account that a comparison came to; none where there was no account."""
    account = comparison.get("account")
    result = account["result"] if account else None
    if result is None:
        return ()
    syringes = result["syringes"]
    shown = tuple(_statement(f"Syringe {each['syringe']}", each) for each in syringes)
    return shown if len(syringes) == 1 else (*shown, _statement("All syringes", result["infusion"]))


def _statement(title: str, told: Mapping[str, Any]) -> StatementShown:
    stages = [told[name]["verdict"] or "" for name in ("in_use", "in_hand")]
    verdict = max(stages, key=list(VERDICTS).index) if all(stages) else ""
    return StatementShown(
        title=title, rows=tuple(_rows(told)), verdict=VERDICTS[verdict] if verdict else NOT_COUNTED
    )


def _rows(told: Mapping[str, Any]) -> Iterator[Row]:
    for name, words in PLACES.items():
        volume, amount = told["volume"].get(name), told["amount"].get(name)
        if name not in _ALWAYS and volume is not None and volume["exact"] == "0":
            continue
        lines = (Line(who="", sources=(), text=_shown(volume)), Line(who="", sources=(), text=_shown(amount)))
        yield Row(label=words, lines=lines)


def _shown(quantity: Mapping[str, str] | None) -> str:
    return quantity["shown"] if quantity else NOT_KNOWN
