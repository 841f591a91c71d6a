"""How often which error, and how often one person notices it: published figures, each with its source.

What has no source says so: it is an assumption that anybody may change and run the study again.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction

from app.review.errors import Error

ASSUMED = "assumption, no source"


@dataclass(frozen=True, kw_only=True)
class Mix:
    """How often each error is among all, as weights, and where that comes from."""

    name: str
    weights: Mapping[Error, int]
    source: str


# What a device is programmed with, apart from the concentration.
_PROGRAMMED = (Error.TENFOLD, Error.DIGITS, Error.UNIT, Error.LOCKOUT, Error.LIMIT, Error.CONTINUOUS)
_DOSE = (Error.DEVICE_STRENGTH, *_PROGRAMMED, Error.STRENGTH, Error.ORDERED_DOSE)

MIXES = (
    Mix(
        name="pca-hospital",
        # Of 62 errors 21 in programming, 10 of these of the concentration, and 8 of the tubing; the other 33
        # are not told apart. Times 6, so that the other 11 share evenly among six settings.
        weights={
            Error.DEVICE_STRENGTH: 60,
            **dict.fromkeys(_PROGRAMMED, 11),
            Error.LINE: 48,
        },
        source=(
            "Paul and others, Anesthesiology 2010;113:1427-32: 10 of 62 errors of concentration, 11 other "
            "programming, 8 tubing; evenly over the other settings: " + ASSUMED
        ),
    ),
    Mix(
        name="pca-reports",
        # 38 % dose or quantity, 17.4 % left out, 17.3 % wrong drug; the rest is not told apart. Times 90, so
        # that the first share evenly among nine.
        weights={
            **dict.fromkeys(_DOSE, 380),
            Error.LEFT_OUT: 1566,
            Error.DRUG: 1557,
        },
        source=(
            "Hicks and others, Am J Health Syst Pharm 2008;65:429-40: dose or quantity 38 %, omission "
            "17.4 %, wrong drug 17.3 %; evenly over the doses: " + ASSUMED
        ),
    ),
    Mix(name="even", weights=dict.fromkeys(Error, 1), source=f"each kind as often as any other: {ASSUMED}"),
)


@dataclass(frozen=True, kw_only=True)
class Chance:
    """How often something happens, and where that comes from."""

    share: Fraction
    source: str


_MIDDLE = Chance(
    share=Fraction(9, 20),
    source=(
        "the middle of 0 % to 90 % by kind of error, White and others, Qual Saf Health Care 2010;19:562-7: "
        + ASSUMED
    ),
)
_VIAL = Chance(
    share=Fraction(7, 13),
    source="wrong vial found by 7 of 13 who checked alone, Douglass and others, Ann Emerg Med 2018;71:74-82",
)
_DOSE_FOR_PATIENT = Chance(
    share=Fraction(2, 22),
    source=(
        "wrong dose for the patient found by 2 of 22 who checked alone, Douglass and others, Ann Emerg Med "
        "2018;71:74-82"
    ),
)
_NEVER = Chance(share=Fraction(0), source="two who read one label cannot find that it is wrong")

ALONE: Mapping[Error, Chance] = {
    **dict.fromkeys(Error, _MIDDLE),
    Error.DRUG: _VIAL,
    Error.STRENGTH: _VIAL,
    Error.ORDERED_DOSE: _DOSE_FOR_PATIENT,
    Error.LABEL_ITSELF: _NEVER,
}
"""How often one person alone finds each error."""

MISREAD = Chance(
    share=Fraction(16, 1000),
    source=(
        "one number wrong in a reading: as often as a syringe was read wrong, 1.6 %, Parshuram and others, "
        "CMAJ 2008;178:42; that it is as often here: " + ASSUMED
    ),
)
EXPECTS = Chance(
    share=Fraction(1, 10),
    source=f"somebody reads what they expect, not what stands there: {ASSUMED}",
)
LED = Chance(
    share=Fraction(19, 20),
    source=(
        "the second follows the first: primed checks find no more than one person, Westbrook and others, "
        "BMJ Qual Saf 2021;30:320-30; so nearly always: " + ASSUMED
    ),
)
SHARED = Chance(
    share=Fraction(1, 5),
    source=f"one cause misleads both, or neither: {ASSUMED}",
)
