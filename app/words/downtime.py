"""The words of the papers for the time when the program is down, and of what is entered from them later."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from app.records.rules import LIBRARY, PACKS, Rules
from app.words.names import finding_field_words

NO_BLIND_CHECK = (
    "Not a blind check by the program: two people's own readings, which they compare themselves. "
    "It is never called ready to start."
)


@dataclass(frozen=True, kw_only=True)
class Sum:
    """One figure that each of the two works out by hand: what it is, and how."""

    what: str
    how: str


_X = "\N{MULTIPLICATION SIGN}"
_UNLESS_LOWER = "the limit where that is lower"


def hand_check(engine: Mapping[str, Any]) -> tuple[Sum, ...]:
    """The engine's figures as far as a pencil can: the contract's MATH, and how its model device counts."""
    # The continuous part is in the limit, or comes on top of it.
    counted = engine.get("limit_counts_continuous", True)
    beyond = f"+ continuous rate {_X} {{}}"
    parts = (f"{{}}, {beyond}", _UNLESS_LOWER) if counted else ("{}", _UNLESS_LOWER, beyond)
    most = "; ".join(parts)
    return (
        Sum(what="a  Concentration", how="amount ÷ volume"),
        Sum(what="b  One demand dose, in mL", how="demand dose ÷ a"),
        Sum(what="c  Demands in the first hour", how="60 min ÷ lockout, rounded up"),
        Sum(what="d  Most in 1 h", how=most.format(f"c {_X} demand dose", "1 h")),
        Sum(what="e  First hour, loading dose included", how="d + loading dose"),
        Sum(
            what="f  Most in 4 h", how=most.format(f"240 min ÷ lockout, rounded up, {_X} demand dose", "4 h")
        ),
        Sum(
            what="g  The syringe lasts at least about",
            how=f"(volume - primed volume) {_X} a, less the loading dose, ÷ d: in hours",
        ),
        Sum(
            what="h  Drug pushed in at once, if the line is primed past the junction",
            how=f"mL past it {_X} a",
        ),
    )


ONE_UNIT = (
    "Work in one unit: 1 mg = 1,000 mcg, 1 h = 60 min. Each works alone; then both are laid side by side."
)


@dataclass(frozen=True, kw_only=True)
class DrugLimits:
    """What the drug library says of one drug: its strengths, and beyond what to consider or not to start."""

    name: str
    strengths: tuple[str, ...]
    limits: tuple["LimitWords", ...]


@dataclass(frozen=True, kw_only=True)
class LimitWords:
    """One limit in words; each bound may be blank."""

    of: str
    usual: str
    never: str


def drug_limits(rules: Rules) -> tuple[DrugLimits, ...]:
    """The drug library as a paper shows it."""
    drugs: Mapping[str, Any] = rules.content(LIBRARY)["drugs"]
    return tuple(
        DrugLimits(
            name=name,
            strengths=tuple(_strength(each) for each in listed["concentrations"]),
            limits=tuple(_limit(each) for each in listed["limits"]),
        )
        for name, listed in drugs.items()
    )


def _strength(listed: str | Mapping[str, Any]) -> str:
    if isinstance(listed, str):
        return listed
    return f"{listed['is']}, tolerant patients only" if listed.get("tolerant_only") else str(listed["is"])


_FOR = {"tolerant": ", tolerant", "not-tolerant": ", not tolerant"}


_BEYOND = {"hard_low": "below", "hard_high": "above"}


def _limit(row: Mapping[str, str]) -> LimitWords:
    return LimitWords(
        of=finding_field_words(row["field"]) + _FOR.get(row.get("for", ""), ""),
        usual=_between(row.get("soft_low", ""), row.get("soft_high", "")),
        never=" or ".join(f"{word} {row[bound]}" for bound, word in _BEYOND.items() if bound in row),
    )


def _between(low: str, high: str) -> str:
    if low and high:
        return f"{low} to {high}"
    return f"at least {low}" if low else f"at most {high}" if high else ""


def unit_asks(rules: Rules) -> tuple[str, ...]:
    """What the site's policy asks for on the unit, in sentences."""
    return tuple(_asks(rules.policy.engine, adult_age=rules.policy.adult_age))


_CAPNOGRAPHY = {
    "always": "Capnography: on, for everybody.",
    "with-oxygen-or-at-risk": "Capnography: on with oxygen, and for every patient at risk.",
}


def _asks(engine: Mapping[str, Any], *, adult_age: int) -> Iterator[str]:
    yield f"Adults only, from {adult_age} years; a dose per kg is the children's protocol."
    if engine.get("pharmacist_required", True):
        yield "A pharmacist has reviewed the order."
    # As the engine takes it where a policy says nothing.
    capnography = _CAPNOGRAPHY.get(engine.get("capnography_required", "with-oxygen-or-at-risk"), "")
    if capnography:
        yield capnography
    if engine.get("pulse_oximetry_required", True):
        yield "Pulse oximetry: on."
    for alarm, bounds in engine.get("alarm_bounds", {}).items():
        words = finding_field_words(f"monitor.{alarm}")
        said = " to ".join(bounds[each] for each in ("lowest", "highest") if each in bounds)
        yield f"{words}: {said or 'set'}{', must be set' if bounds.get('required') else ''}."
    yield _counts(engine)
    refused = engine.get("carrier_refused", ())
    if refused:
        yield f"Never as a carrier: {', '.join(refused)}."


def _counts(engine: Mapping[str, Any]) -> str:
    counted = ["demand doses"]
    if engine.get("limit_counts_loading", True):
        counted.append("the loading dose")
    if engine.get("limit_counts_continuous", True):
        counted.append("the continuous part")
    *most, last = counted
    return f"The limit counts {', '.join(most)} and {last}." if most else f"The limit counts {last} alone."


def line_sets(rules: Rules) -> tuple[str, ...]:
    """The line sets with what they hold."""
    return tuple(
        f"{each['words']}: holds {each['prime_volume']}, {each['dead_volume']} of it past the junction"
        for each in rules.content(PACKS)["packs"]
    )
