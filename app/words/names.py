"""The words for what is kept as a name or a code, on the screens and on a printed record alike."""

from fractions import Fraction

from app.quantities import set_off
from app.records.fields import field_named, find_field
from app.records.followup import OF_PATIENT
from app.records.kept import A, B
from app.records.kinds import Kind, kind_named

INVENTED_RULES = "Invented rules: never for a patient"
FOR_TRAINING = "For training: never for a patient"

SOURCES: dict[str, str] = {
    "wristband": "Wristband",
    "chart": "Chart",
    "order": "Order",
    "label": "Label",
    "device": "Device",
    "monitor": "Monitor",
    "totals": "Device totals",
    "bedside": "Patient and line",
}

ANSWERS: dict[str, str] = {
    "yes": "Yes",
    "no": "No",
    "unknown": "Unknown",
    "on": "On",
    "off": "Off",
    "none": "None",
    "charted": "Charted",
    "none-charted": "None charted",
    "not-recorded": "The chart does not say",
    "none-to-this-drug": "None to this drug",
    "intolerance-reviewed": "Intolerance, reviewed",
    "to-this-drug-or-its-family": "To this drug or its family",
    "not-charted": "Not charted",
    "within-24-h": "Yes, within 24\N{NO-BREAK SPACE}h",
    "running": "Yes, running now",
    "verified": "Reviewed",
    "not-yet": "Not yet",
    "urgent-exception": "Not yet: marked as an urgent exception",
    "demand": "Demand only",
    "continuous": "Continuous only",
    "demand-and-continuous": "Demand and continuous",
    "amount-in-volume": "Amount in a volume",
    "per-millilitre": "Per mL",
    "states-none": "No concentration stated",
    "in-millilitres": "None set: doses in mL",
    "as-it-should-be": "As they should be",
    "not-as-it-should-be": "Not as they should be",
    "by-the-patient-alone": "The patient can use it, and knows that only they press",
    "cannot-use-it": "The patient cannot use it now",
    "others-may-press": "Others press it, or the patient does not know",
    "new": "New, seal unbroken",
    "part-used": "Part-used, was on before",
    **{str(number): str(number) for number in range(11)},
}

SEVERITIES: dict[str, str] = {"stop": "DO NOT START", "caution": "CONSIDER", "note": "FOR INFORMATION"}
ACT_NOW = "ACT NOW"
SETTLE = "SETTLE BEFORE SIGNING"

STOP_REASONS: dict[str, str] = {
    "sedation-or-breathing": "Sedation or breathing",
    "reversal-agent": "A reversal agent for sedation or breathing",
    "wrong-patient": "Wrong patient",
    "wrong-setting-or-drug": "Wrong drug, strength or setting",
    "unsure": "For the patient, not sure which",
    "line-or-site": "Line or site",
    "device-alarm-or-fault": "Device alarm or fault",
    "end-of-therapy": "End of therapy",
    "other": "Something else, not the patient",
}

# Why an infusion had to start without its check; the words themselves are kept as the reason.
NO_CHECK: dict[str, str] = {
    "nobody": "No second nurse could come in time",
    "pain": "The patient could not wait",
    "program": "The program or the screen did not work",
    "other": "Something else",
}

PAUSE_REASONS: dict[str, str] = {
    "occlusion-alarm": "Occlusion alarm",
    "kink": "Kink in the line",
    "walk": "A walk",
    "other": "Something else",
}
# Why a dose is lowered at once, before two have checked it.
LOWERED_REASONS: dict[str, str] = {
    "sedation": "More sedated than before",
    "breathing": "Breathing slower than before",
    "other": "Something else about the patient",
}

_PAUSED_OTHERWISE = {"change": "Something of it is changed"}

WHYS: dict[str, str] = {
    "readings": "Our readings do not come together",
    "sources": "Order, label or device cannot be put right here",
    "rule": "A rule stands against what is ordered",
    "patient": "Something about the patient worries me",
    "other": "Something else",
}

# How whoever helped settled a request for help.
OUTCOMES: dict[str, str] = {
    "order-clarified": "Order clarified with the prescriber",
    "syringe-returned": "Syringe returned to pharmacy",
    "device-reprogrammed": "Device reprogrammed",
    "identity-resolved": "Patient identity resolved",
    "exception-granted": "Exception granted",
    "read-again": "Looked at together",
    "other": "Settled otherwise",
    "abandon": "Check given up",
}

PLANS: dict[str, str] = {
    "with-carrier": "with a carrier",
    "dedicated-line": "on a line of its own",
    "new-settings": "for new settings",
    "new-syringe": "for a new syringe",
    "totals-cleared": "for totals that were cleared",
    "off-the-patient": "off the patient",
}

VERSIONS: dict[str, str] = {
    "engine": "engine",
    "policy": "policy",
    "library": "drug library",
    "packs": "line sets",
    "observations": "observation protocol",
    "safety_steps": "safety steps",
}

# What is computed, and read nowhere.
_LIMITED = {
    "amount_per_hour": "Most in 1 h",
    "amount_per_4_hours": "Most in 4 h",
    "first_hour_with_loading": "Most in the first hour, loading dose included",
    "primed_volume": "Primed volume",
    "patient": "Patient",
}

# Between these a ratio is said quietly: shouted, "1.02 times" would drown what is far more dangerous.
_HALF, _TWICE = Fraction(1, 2), Fraction(2)
_TIMES: dict[str, str] = {
    "2": "TWICE",
    "3": "THREE TIMES",
    "4": "FOUR TIMES",
    "5": "FIVE TIMES",
    "6": "SIX TIMES",
    "7": "SEVEN TIMES",
    "8": "EIGHT TIMES",
    "9": "NINE TIMES",
    "10": "TEN TIMES",
    "50": "FIFTY TIMES",
    "60": "SIXTY TIMES",
    "100": "A HUNDRED TIMES",
    "1,000": "A THOUSAND TIMES",
    "0.5": "HALF",
    "0.333": "A THIRD",
    "0.25": "A QUARTER",
    "0.2": "A FIFTH",
    "0.1": "A TENTH",
    "0.01": "A HUNDREDTH",
    "0.001": "A THOUSANDTH",
}


# On paper the two stand beside each value, in little room.
_NURSES: dict[str, str] = {A: "1st", B: "2nd"}


def nurse_words(who: str) -> str:
    """Which of the two nurses a letter of the data is; whoever else it is stays as it is."""
    return _NURSES.get(who, who)


def pause_words(why: str) -> str:
    """Why a line was paused."""
    return (PAUSE_REASONS | _PAUSED_OTHERWISE).get(why, why)


def severity_words(severity: str, kind: Kind, about: str = "") -> str:
    """The heading of a finding; what already runs is no longer to be kept from starting.

    A stop of the account never asks for the device to be stopped, unless it is about the patient.
    """
    if about:
        return ACT_NOW if about == OF_PATIENT else SETTLE
    return ACT_NOW if severity == "stop" and kind.is_running else SEVERITIES[severity]


def named_within(kind: str) -> str:
    """A kind of check within a sentence."""
    words = kind_named(kind).words
    return words[0].lower() + words[1:]


def named_as_one(kind: str) -> str:
    """The same with its article, where one more is opened."""
    named = named_within(kind)
    return f"an {named}" if named[0] in "aeiou" else f"a {named}"


def answer_words(text: str) -> str:
    """An answer for people: a choice in words, thousands of a quantity set off, a name as it was typed."""
    return ANSWERS.get(text) or set_off(text)


def none_words(field: str) -> str:
    """How *none* is said of a field: an answer of its own, never a blank; blank where it is none."""
    row = field_named(field)
    return row.none or next(iter(row.none_in.values()), "")


def loud_times(factor: str) -> str:
    """A ratio in loud words from twice or from half on; blank for a smaller one, and where there is none."""
    if not factor or _HALF < Fraction(factor.replace(",", "")) < _TWICE:
        return ""
    return _TIMES.get(factor, f"{factor} TIMES")


def quiet_times(factor: str) -> str:
    """A ratio that is too small to be loud, as `1.02 times`; blank for others, and where it is one."""
    return "" if factor in ("", "1") or loud_times(factor) else f"{factor} times"


def finding_field_words(field: str) -> str:
    """The label of the field that a finding is about."""
    found = find_field(field)
    return found.label if found else _LIMITED[field]


def round_words(number: int) -> str:
    """Which reading it is: `reading 3`; a *first reading* would be the first nurse's."""
    return f"reading {number}"


def listed(parts: list[str] | tuple[str, ...]) -> str:
    """`order, label and device`."""
    *most, last = parts
    return f"{', '.join(most)} and {last}" if most else last
