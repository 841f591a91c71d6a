"""The model pump, the dose math of one source, and what device and syringe together deliver. All exact."""

from app.dosing.curve import Curve, curve_of
from app.dosing.delivery import Delivery, at_strength, delivery, number_json, primed_drug
from app.dosing.dose_math import DoseMath, OverTime, SetInUse, SourceSettings, dose_math
from app.dosing.long_use import LongUse
from app.dosing.pump_settings import Counting, Limit

__all__ = [
    "Counting",
    "Curve",
    "Delivery",
    "DoseMath",
    "Limit",
    "LongUse",
    "OverTime",
    "SetInUse",
    "SourceSettings",
    "at_strength",
    "curve_of",
    "delivery",
    "dose_math",
    "number_json",
    "primed_drug",
]
