"""The site's rules for an account."""

from fractions import Fraction

from app.accounting.case import Policy, TotalsCount
from app.accounting.entry_reader import ZERO_OR_MORE_MASS
from app.accounting.shapes import COUNTS, Part, count
from app.comparison.documents import WHOLE, Node, Quantities, find_choice, find_node
from app.comparison.fields import ZERO_OR_MORE_VOLUME
from app.dosing import Counting
from app.quantities import Dimension, Range
from app.records.measures import Measure

_KEYS = frozenset(
    {
        "device_accuracy",
        "fill_accuracy",
        "prime_accuracy",
        "scale_division",
        "display_step_amount",
        "display_step_volume",
        "time_accuracy",
        "decide_by",
        "at_least",
        *COUNTS,
        "limit_counts_continuous",
        "presses_per_dose",
        "lead_time",
        "ask_at_full_use",
    }
)
_WORST_CASE, _ROOT = "worst-case", "root-sum-square"
_NOTHING = Fraction(0)


def _up_to(dimension: Dimension, most: int) -> Measure:
    return Measure(dimension=dimension, zero_allowed=True, allowed=Range(least=_NOTHING, most=Fraction(most)))


_SHARE = _up_to(Dimension.PERCENT, 100)
_TIME_ACCURACY = _up_to(Dimension.TIME, 60)
_LEAD_TIME = _up_to(Dimension.TIME, 720 * 60)


def read_policy(case: Node, quantities: Quantities) -> Policy:
    """The site's rules; what is absent or null has its default."""
    rules = Part(find_node(case, WHOLE, "policy", _KEYS) or {}, "policy", quantities)
    device = rules.find_quantity("device_accuracy", _SHARE)
    fill = rules.find_quantity("fill_accuracy", _SHARE)
    prime = rules.find_quantity("prime_accuracy", _SHARE)
    division = rules.find_quantity("scale_division", ZERO_OR_MORE_VOLUME)
    step_amount = rules.find_quantity("display_step_amount", ZERO_OR_MORE_MASS)
    step_volume = rules.find_quantity("display_step_volume", ZERO_OR_MORE_VOLUME)
    time_accuracy = rules.find_quantity("time_accuracy", _TIME_ACCURACY)
    decide_by = find_choice(rules.given, rules.path, "decide_by", (_WORST_CASE, _ROOT))
    at_least = rules.find_quantity("at_least", ZERO_OR_MORE_VOLUME)
    totals_count = TotalsCount(**rules.switches(COUNTS))
    counts_continuous = rules.find_switch("limit_counts_continuous") is not False
    presses = count(rules.given.get("presses_per_dose"), rules.below("presses_per_dose"), least=1)
    lead_time = rules.find_quantity("lead_time", _LEAD_TIME)
    return Policy(
        device_accuracy=_or(device, 5) / 100,
        fill_accuracy=_or(fill, 0) / 100,
        prime_accuracy=_or(prime, 0) / 100,
        scale_division=_or(division, 1),
        display_step_amount=step_amount,
        display_step_volume=step_volume,
        time_accuracy=_or(time_accuracy, 1),
        root_decides=decide_by == _ROOT,
        at_least=_or(at_least, 0),
        totals_count=totals_count,
        counting=Counting(continuous=counts_continuous),
        presses_per_dose=presses,
        lead_time=_or(lead_time, 4 * 60),
        ask_at_full_use=rules.find_switch("ask_at_full_use") or False,
    )


def _or(given: Fraction | None, default: int) -> Fraction:
    return Fraction(default) if given is None else given
