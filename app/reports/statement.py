"""The account on the printed record: where each millilitre and each milligram went, syringe by syringe."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from app.words.account import NOT_KNOWN, PLACES, VERDICTS

# Of these none is said where it is nothing.
_SELDOM = frozenset({"not_read", "returned", "kept"})
# In which of its stages a difference came up.
_STAGES: Mapping[str, str] = {"in_use": "While it was in use", "in_hand": "After it was counted last"}
_WORSE = tuple(VERDICTS)


@dataclass(frozen=True, kw_only=True)
class PlaceLine:
    """What went to one place, as a volume and as a mass."""

    label: str
    volume: str
    amount: str


@dataclass(frozen=True, kw_only=True)
class SyringeStatement:
    """One syringe, or all of them together; `stages` say how much may be off, and what it comes to."""

    name: str
    places: tuple[PlaceLine, ...]
    stages: tuple[str, ...]
    verdict: str


@dataclass(frozen=True, kw_only=True)
class Statement:
    """The whole; `findings` are what the account found, worst first. Without an account nothing is in it."""

    syringes: tuple[SyringeStatement, ...]
    findings: tuple[tuple[str, str], ...]


def statement_of(document: Mapping[str, Any]) -> Statement | None:
    """The statement of a record that closes an account; None of any other."""
    if "account" not in document:
        return None
    if document["account"] is None:
        return Statement(syringes=(), findings=())
    result = document["account"]["result"]
    each_of = [_syringe(f"Syringe {each['syringe']}", each) for each in result["syringes"]]
    if len(each_of) > 1:
        each_of.append(_syringe("All together", result["infusion"]))
    return Statement(
        syringes=tuple(each_of),
        findings=tuple((each["severity"], each["says"]) for each in result["findings"]),
    )


def _syringe(name: str, told: Mapping[str, Any]) -> SyringeStatement:
    verdicts = [told[stage]["verdict"] for stage in _STAGES if told[stage]["verdict"]]
    worst = max(verdicts, key=_WORSE.index, default="")
    return SyringeStatement(
        name=name,
        places=tuple(_places(told)),
        stages=tuple(_stages(told)),
        verdict=VERDICTS[worst] if worst else f"Whether it adds up is {NOT_KNOWN}.",
    )


def _places(told: Mapping[str, Any]) -> Iterator[PlaceLine]:
    for place, label in PLACES.items():
        volume, amount = told["volume"][place], told["amount"][place]
        if place in _SELDOM and volume is not None and volume["exact"] == "0":
            continue
        yield PlaceLine(label=label, volume=_shown(volume), amount=_shown(amount))


def _stages(told: Mapping[str, Any]) -> Iterator[str]:
    for stage, words in _STAGES.items():
        volume, budget = told[stage]["volume"], told[stage]["budget"]
        if volume is not None and budget is not None:
            most, root = _shown(budget["worst_case"]), _shown(budget["root_sum_square"])
            off = f"device and scale may be off by {most}, by the root of squares {root}"
            yield f"{words}: {_shown(volume)} not explained; {off}."


def _shown(quantity: Mapping[str, Any] | None) -> str:
    return NOT_KNOWN if quantity is None else str(quantity["shown"])
