"""What a record shows of each source: its label, how it is said, and which findings speak of it."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass

from app.quantities import set_off
from app.records.sources import NONE, STATES_NONE, Source
from app.reports.times import day_in_words
from app.words.names import FIELDS, answer_words

STATES_NONE_WORDS = "states none"

Said = Callable[[Mapping[str, str]], str | None]


@dataclass(frozen=True, kw_only=True)
class Shown:
    """One thing that is read; `about` are the fields of findings that speak of it."""

    label: str
    sources: tuple[str, ...]
    said: Said
    about: tuple[str, ...]


def _shown(label: str, sources: tuple[str, ...], said: Said, about: tuple[str, ...]) -> Shown:
    return Shown(label=label, sources=sources, said=said, about=about)


def _strength(answers: Mapping[str, str]) -> str | None:
    if answers.get("strength") == STATES_NONE:
        return STATES_NONE_WORDS
    if answers.get("amount") and answers.get("volume"):
        return set_off(f"{answers['amount']} in {answers['volume']}")
    return _plain("concentration")(answers)


def _limit(answers: Mapping[str, str]) -> str | None:
    amount, window = answers.get("limit_amount"), answers.get("limit_window")
    return set_off(f"{amount} in {window}") if amount and window else _plain("limit_amount")(answers)


def _plain(name: str) -> Said:
    def said(answers: Mapping[str, str]) -> str | None:
        text = answers.get(name)
        return None if text is None else answer_words(text)

    return said


def _typed(name: str) -> Said:
    """A name or a number on a label, which is never taken for one of our words."""

    def said(answers: Mapping[str, str]) -> str | None:
        text = answers.get(name)
        return answer_words(text) if text == NONE else text

    return said


def _in_words(name: str) -> Said:
    def said(answers: Mapping[str, str]) -> str | None:
        text = answers.get(name)
        return None if text is None else answer_words(text) if text == NONE else day_in_words(text)

    return said


_ORDER, _LABEL, DEVICE = Source.ORDER.value, Source.LABEL.value, Source.DEVICE.value
_SET = (_ORDER, DEVICE)

SETTINGS: tuple[Shown, ...] = (
    _shown("Drug", (_ORDER, _LABEL, DEVICE), _typed("drug"), ("drug",)),
    _shown("Concentration", (_ORDER, _LABEL, DEVICE), _strength, ("concentration", "amount", "volume")),
    _shown("Mode", _SET, _plain("mode"), ("mode",)),
    _shown("Demand dose", _SET, _typed("demand_dose"), ("demand_dose",)),
    _shown("Lockout", _SET, _typed("lockout"), ("lockout",)),
    _shown("Continuous rate", _SET, _typed("continuous_rate"), ("continuous_rate",)),
    _shown("Limit", _SET, _limit, ("limit.amount", "limit.window")),
    _shown("Loading dose", _SET, _typed("loading_dose"), ("loading_dose",)),
    _shown("Carrier", _SET, _typed("carrier_fluid"), ("carrier.fluid",)),
    _shown("Carrier rate", _SET, _typed("carrier_rate"), ("carrier.rate",)),
)
WRISTBAND: tuple[Shown, ...] = (
    _shown(FIELDS["identifier"], (Source.WRISTBAND.value,), _typed("identifier"), ("patient.identifier",)),
    _shown(FIELDS["birth_date"], (Source.WRISTBAND.value,), _in_words("birth_date"), ("patient.birth_date",)),
)
_CHART_NAMES = (
    "order_current",
    "pharmacist",
    "allergy",
    "opioid_tolerant",
    "other_opioids",
    "sedatives",
    "neuraxial_opioid",
    "able_to_use_button",
    "weight",
)
CHART: tuple[Shown, ...] = tuple(
    _shown(FIELDS[name], (Source.CHART.value,), _plain(name), (f"chart.{name}",)) for name in _CHART_NAMES
)
SYRINGE: tuple[Shown, ...] = (
    _shown(FIELDS["lot"], (_LABEL,), _typed("lot"), ("lot",)),
    _shown(FIELDS["use_by"], (_LABEL,), _in_words("use_by"), ("use_by",)),
    _shown(FIELDS["code"], (_LABEL,), _typed("code"), ("code",)),
    _shown(FIELDS["syringe_size"], (_LABEL, DEVICE), _plain("syringe_size"), ("syringe_size",)),
    _shown(FIELDS["pack"], (DEVICE,), _typed("pack"), ("pack",)),
)
_MONITOR_NAMES = (
    "capnography",
    "pulse_oximetry",
    "low_respiratory_rate",
    "low_spo2",
    "high_etco2",
    "apnea_time",
)
MONITOR: tuple[Shown, ...] = tuple(
    _shown(FIELDS[name], (Source.MONITOR.value,), _plain(name), (f"monitor.{name}",))
    for name in _MONITOR_NAMES
)
EVERYTHING = (*WRISTBAND, *SETTINGS, *CHART, *SYRINGE, *MONITOR)
