"""Errors as people make them, one at a time, in what stands at a bed."""

from collections.abc import Callable, Mapping
from copy import deepcopy
from enum import StrEnum
from fractions import Fraction

from app.review.draws import Draws
from app.review.true_cases import Ordered, Sources, true_sources


class Error(StrEnum):
    """The kinds of error, in the order in which they are told."""

    DEVICE_STRENGTH = "device-strength"
    TENFOLD = "tenfold"
    DIGITS = "digits"
    UNIT = "unit"
    LOCKOUT = "lockout"
    LIMIT = "limit"
    CONTINUOUS = "continuous"
    LEFT_OUT = "left-out"
    SYRINGE_SIZE = "syringe-size"
    DRUG = "drug"
    STRENGTH = "strength"
    PATIENT = "patient"
    MONITORING = "monitoring"
    ORDERED_DOSE = "ordered-dose"
    LINE = "line"
    LABEL_ITSELF = "label-itself"


UNSEEN_BY_THE_ENGINE = frozenset({Error.LINE, Error.LABEL_ITSELF})
"""What is in no reading: where a line leads, and what is in a syringe that its label does not say."""

# On a keypad with 7, 8 and 9 on top.
_BESIDE = {"1": "24", "2": "153", "3": "26", "4": "175", "5": "4682", "6": "593"}
_BESIDE |= {"7": "48", "8": "795", "9": "86"}


def with_error(error: Error, ordered: Ordered, draws: Draws) -> Sources:
    """What stands at the bed once this error has been made; one that no reading holds changes nothing."""
    sources = true_sources(ordered)
    make = _MAKES.get(error)
    if make is not None:
        make(sources, ordered, draws)
    return sources


def misread(sources: Sources, draws: Draws) -> Sources:
    """What somebody hands in who got one number wrong in reading or typing."""
    read = deepcopy(sources)
    settings = read[draws.one_of(("order", "device"))]
    field = draws.one_of(("demand_dose", "lockout", "loading_dose"))
    settings[field] = _slipped(settings[field], draws)
    return read


def _device_strength(sources: Sources, ordered: Ordered, _draws: Draws) -> None:
    sources["device"]["amount"] = ordered.other


def _tenfold(sources: Sources, ordered: Ordered, draws: Draws) -> None:
    times = Fraction(10) if draws.happens(Fraction(1, 2)) else Fraction(1, 10)
    sources["device"]["demand_dose"] = _times(ordered.demand_dose, times)


def _digits(sources: Sources, ordered: Ordered, draws: Draws) -> None:
    sources["device"]["demand_dose"] = _slipped(ordered.demand_dose, draws)


def _unit(sources: Sources, ordered: Ordered, _draws: Draws) -> None:
    number, _, unit = ordered.demand_dose.partition(" ")
    sources["device"]["demand_dose"] = f"{number} {'mg' if unit == 'mcg' else 'mcg'}"


def _lockout(sources: Sources, ordered: Ordered, draws: Draws) -> None:
    sources["device"]["lockout"] = _slipped(ordered.lockout, draws)


def _limit(sources: Sources, ordered: Ordered, draws: Draws) -> None:
    if draws.happens(Fraction(1, 2)):
        sources["device"]["limit"] = None
    else:
        sources["device"]["limit"]["amount"] = _times(ordered.limit, Fraction(10))


def _continuous(sources: Sources, ordered: Ordered, _draws: Draws) -> None:
    sources["device"] |= {
        "mode": "demand-and-continuous",
        "continuous_rate": f"{ordered.demand_dose}/h",
    }


def _left_out(sources: Sources, _ordered: Ordered, _draws: Draws) -> None:
    sources["device"]["loading_dose"] = None


def _syringe_size(sources: Sources, _ordered: Ordered, draws: Draws) -> None:
    sources["device"]["syringe_size"] = draws.one_of(("30 mL", "50 mL"))


def _drug(sources: Sources, ordered: Ordered, _draws: Draws) -> None:
    """Of the same printed amount, as in the classic mix-up; the device is set as ordered."""
    sources["label"]["drug"] = "HYDROmorphone" if ordered.drug == "morphine" else "morphine"


def _strength(sources: Sources, ordered: Ordered, _draws: Draws) -> None:
    sources["label"]["amount"] = ordered.other


def _patient(sources: Sources, _ordered: Ordered, draws: Draws) -> None:
    sources["label"]["patient"] = {"identifier": draws.one_of(("INVENTED-0471", "INVENTED-0299"))}


def _monitoring(sources: Sources, _ordered: Ordered, draws: Draws) -> None:
    sources["device"]["monitor"][draws.one_of(("capnography", "pulse_oximetry"))] = "off"


def _ordered_dose(sources: Sources, ordered: Ordered, _draws: Draws) -> None:
    """Ordered and set ten times too high: every source agrees."""
    for each in ("order", "device"):
        sources[each]["demand_dose"] = _times(ordered.demand_dose, Fraction(10))


_MAKES: Mapping[Error, Callable[[Sources, Ordered, Draws], None]] = {
    Error.DEVICE_STRENGTH: _device_strength,
    Error.TENFOLD: _tenfold,
    Error.DIGITS: _digits,
    Error.UNIT: _unit,
    Error.LOCKOUT: _lockout,
    Error.LIMIT: _limit,
    Error.CONTINUOUS: _continuous,
    Error.LEFT_OUT: _left_out,
    Error.SYRINGE_SIZE: _syringe_size,
    Error.DRUG: _drug,
    Error.STRENGTH: _strength,
    Error.PATIENT: _patient,
    Error.MONITORING: _monitoring,
    Error.ORDERED_DOSE: _ordered_dose,
}


def _times(quantity: str, factor: Fraction) -> str:
    number, _, unit = quantity.partition(" ")
    return f"{_typed(Fraction(number) * factor)} {unit}"


def _typed(number: Fraction) -> str:
    """A finite decimal as the contract wants it: no zero at its end."""
    places = 0
    while (number * 10**places).denominator != 1:
        places += 1
    digits = f"{int(number * 10**places):0{places + 1}d}"
    return f"{digits[:-places]}.{digits[-places:]}" if places else digits


def _slipped(quantity: str, draws: Draws) -> str:
    """One key beside the right one, one pressed twice, or one not at all."""
    number, _, unit = quantity.partition(" ")
    found = {
        f"{number[:place]}{instead}{number[place + 1 :]}"
        for place, digit in enumerate(number)
        if digit in _BESIDE
        for instead in (*_BESIDE[digit], digit + digit, "")
    }
    whole = sorted(each for each in found if _is_whole(each))
    return f"{draws.one_of(whole)} {unit}"


def _is_whole(number: str) -> bool:
    """Whether a number is still one that can be typed: not empty, and not zero."""
    return number.strip("0.") != "" and not number.startswith(".") and not number.endswith(".")
