"""The words of an account: where a millilitre can go, how it adds up, and until when a syringe lasts."""

from collections.abc import Mapping
from typing import Any

from app.accounting.lasting import Ends, Pace

PLACES: Mapping[str, str] = {
    "loaded": "In it, by its label",
    "primed": "Primed, off the patient",
    "delivered_by_device": "Given, by the device's totals",
    "not_read": "Gone since, totals not read",
    "wasted": "Wasted",
    "returned": "Returned to pharmacy",
    "kept": "Kept, sealed",
    "left": "Left in it",
    "difference": "Difference",
}

VERDICTS: Mapping[str, str] = {
    "balances": "It adds up, to the last digit.",
    "within-tolerance": "It adds up, within what device and scale may be off.",
    "does-not-fit": "It does not add up so far.",
    "unexplained": "It does not add up.",
}

NOT_KNOWN = "not known"
NOT_COUNTED = "It cannot be added up: something was not read."

ADDS_UP = frozenset({"balances", "within-tolerance"})


def verdict_of(told: Mapping[str, Any]) -> str:
    """The worse of in use and in hand, of one syringe or all; blank where something was not read."""
    stages = [told[name]["verdict"] or "" for name in ("in_use", "in_hand")]
    return max(stages, key=list(VERDICTS).index) if all(stages) else ""


def adds_up_words(account: Mapping[str, Any] | None) -> str:
    """That the account a comparison came to adds up so far; blank where it does not, or there is none."""
    result = account["result"] if account else None
    verdict = verdict_of(result["infusion"]) if result else ""
    says = VERDICTS[verdict] if verdict in ADDS_UP else ""
    return f"The account so far: {says[0].lower()}{says[1:]}" if says else ""


PACES: Mapping[Pace, str] = {
    Pace.CONTINUOUS: "By the continuous part alone",
    Pace.SO_FAR: "By use so far",
    Pace.FULL: "At full use",
}

ENDS: Mapping[Ends, str] = {
    Ends.EMPTY: "empty",
    Ends.USE_BY: "its use-by has passed",
    Ends.IN_USE: "it has been on for as long as the site lets it",
}
