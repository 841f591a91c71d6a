"""What is observed of the patient before a bolus and at its peak, held against the site's protocol."""

from dataclasses import dataclass

from app.judging.steps import breathes_too_slowly, is_too_sedated
from app.quantities import Dimension, Fault, parse_quantity
from app.records.policy import SitePolicy


@dataclass(frozen=True, kw_only=True)
class Observed:
    """Sedation by the site's scale, and the rate that was counted."""

    sedation: str
    respiratory_rate: str


def is_outside(policy: SitePolicy, observed: Observed) -> bool:
    """Whether the protocol forbids a bolus, by as much as was observed."""
    rule, faults = policy.baseline, faults_in(policy, observed)
    too_sedated = "sedation" not in faults and is_too_sedated(rule, observed.sedation)
    return too_sedated or (
        "respiratory_rate" not in faults and breathes_too_slowly(rule, observed.respiratory_rate)
    )


def faults_in(policy: SitePolicy, observed: Observed) -> dict[str, str]:
    """What was left out, or is no rate, by field."""
    faults = {}
    if observed.sedation not in {key for key, _ in policy.baseline.levels}:
        faults["sedation"] = "Choose the level."
    rate = parse_quantity(observed.respiratory_rate, Dimension.FREQUENCY, zero_allowed=True)
    if not observed.respiratory_rate:
        faults["respiratory_rate"] = "Write the rate."
    elif isinstance(rate, Fault):
        faults["respiratory_rate"] = rate.says
    return faults
