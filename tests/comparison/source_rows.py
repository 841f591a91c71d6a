"""Label or device that is not the order; and what just is."""

from tests.comparison.builders import ABSENT
from tests.comparison.row_words import (
    BOTH,
    LIMIT,
    TOLERANT,
    WITH_RATE,
    Row,
)

ROWS: dict[str, Row] = {
    # label-differs and device-differs
    "another drug on the label": ({"AB.label.drug": "hydromorphone"}, ["stop label-differs drug"]),
    "another drug on the device": ({"AB.device.drug": "hydromorphone"}, ["stop device-differs drug"]),
    "another drug on label and device": (
        {"AB.label.drug": "hydromorphone", "AB.device.drug": "hydromorphone"},
        ["stop label-differs drug"],
    ),
    "another concentration on the label": (
        {"AB.label.amount": "250 mg"},
        ["stop label-differs concentration"],
    ),
    "another concentration on the label of another drug": (
        {"AB.label.amount": "250 mg", "AB.label.drug": "pethidine"},
        ["stop label-differs drug", "stop label-differs concentration"],
    ),
    "another concentration on label and device": (
        {"AB.label.amount": "250 mg", "AB.device.amount": "250 mg"},
        ["stop label-differs concentration"],
    ),
    "another concentration on the device": (
        {"AB.device.volume": "25 mL"},
        ["stop device-differs concentration"],
    ),
    "another concentration on the device, of another drug on the label": (
        {"AB.device.volume": "25 mL", "AB.label.drug": "pethidine"},
        ["stop label-differs drug", "stop device-differs concentration"],
    ),
    "the same concentration in a smaller syringe": (
        {"AB.label.amount": "25 mg", "AB.label.volume": "25 mL"},
        ["note volume-differs volume"],
    ),
    "the same concentration in a smaller syringe, set so": (
        {"AB.device.amount": "25 mg", "AB.device.volume": "25 mL"},
        ["note volume-differs volume"],
    ),
    "an order that states no concentration leaves it to the label": (
        {
            "AB.order.amount": None,
            "AB.order.volume": None,
            "AB.order.concentration": None,
            "AB.device.amount": "100 mg",
            "AB.device.volume": "100 mL",
        },
        ["note volume-differs volume"],
    ),
    "label and device of an order without concentration": (
        {
            "AB.order.amount": None,
            "AB.order.volume": None,
            "AB.order.concentration": None,
            "AB.device.amount": "100 mg",
        },
        ["stop device-differs concentration"],
    ),
    "another mode": (
        {"AB.device.mode": "continuous", "AB.device.continuous_rate": "1 mg/h", **TOLERANT},
        ["stop device-differs mode", "stop device-differs continuous_rate"],
    ),
    "a rate that is not ordered": (
        {"AB.device.mode": BOTH, "AB.device.continuous_rate": "1 mg/h", **TOLERANT},
        ["stop device-differs mode", "stop device-differs continuous_rate"],
    ),
    "a rate of which the order says nothing": (
        {
            "AB.device.mode": BOTH,
            "AB.order.continuous_rate": ABSENT,
            "AB.device.continuous_rate": "1 mg/h",
            **TOLERANT,
        },
        ["stop device-differs mode", "stop device-differs continuous_rate"],
    ),
    "an ordered rate that is not set": (
        {**WITH_RATE, "AB.device.mode": "demand", "AB.device.continuous_rate": None},
        ["stop device-differs mode", "stop device-differs continuous_rate"],
    ),
    "a higher rate": (
        {**WITH_RATE, "AB.device.continuous_rate": "2 mg/h"},
        ["stop device-differs continuous_rate"],
    ),
    "a lower dose": ({"AB.device.demand_dose": "0.5 mg"}, ["stop device-differs demand_dose"]),
    "a shorter lockout": ({"AB.device.lockout": "5 min"}, ["stop device-differs lockout"]),
    "a longer lockout": ({"AB.device.lockout": "15 min"}, ["stop device-differs lockout"]),
    "a higher limit": (
        {"AB.settings.limit": LIMIT, "AB.device.limit": {"amount": "30 mg", "window": "4 h"}},
        ["stop device-differs limit.amount"],
    ),
    "a lower limit": (
        {
            "AB.settings.limit": {"amount": "40 mg", "window": "4 h"},
            "AB.device.limit": {"amount": "30 mg", "window": "4 h"},
        },
        ["stop device-differs limit.amount"],
    ),
    "a limit for a shorter time": (
        {
            "AB.settings.limit": {"amount": "30 mg", "window": "4 h"},
            "AB.device.limit": {"amount": "30 mg", "window": "1 h"},
        },
        ["stop device-differs limit.window"],
    ),
    "a limit for a longer time": (
        {
            "AB.settings.limit": {"amount": "30 mg", "window": "1 h"},
            "AB.device.limit": {"amount": "30 mg", "window": "4 h"},
        },
        ["stop device-differs limit.window"],
    ),
    "a limit of as much an hour is another limit": (
        {
            "AB.settings.limit": {"amount": "6 mg", "window": "1 h"},
            "AB.device.limit": {"amount": "24 mg", "window": "4 h"},
        },
        ["stop device-differs limit.amount", "stop device-differs limit.window"],
    ),
    "a limit that is not ordered": (
        {"AB.device.limit": {"amount": "30 mg", "window": "4 h"}},
        ["stop device-differs limit.amount", "stop device-differs limit.window"],
    ),
    "an ordered limit that is not set": (
        {"AB.order.limit": {"amount": "30 mg", "window": "4 h"}},
        ["stop device-differs limit.amount", "stop device-differs limit.window"],
    ),
    "a loading dose that is not ordered": (
        {"AB.device.loading_dose": "3 mg"},
        ["stop device-differs loading_dose"],
    ),
    "an ordered loading dose that is not set": (
        {"AB.order.loading_dose": "3 mg"},
        ["stop device-differs loading_dose"],
    ),
    "a smaller loading dose": (
        {"AB.order.loading_dose": "3 mg", "AB.device.loading_dose": "2 mg"},
        ["stop device-differs loading_dose"],
    ),
    "another carrier": (
        {
            "AB.order.carrier": {"fluid": "sodium chloride 0.9%", "rate": "10 mL/h"},
            "AB.device.carrier": {"fluid": "glucose 5%", "rate": "30 mL/h"},
        },
        [
            "stop device-differs carrier.fluid",
            "caution carrier-rate-differs carrier.rate",
            "caution carrier-not-listed carrier.fluid",
        ],
    ),
    "a carrier that the order does not mention": (
        {"AB.device.carrier": {"fluid": "Sodium chloride 0.9% ", "rate": "10 mL/h"}},
        [],
    ),
    "other alarms than ordered": (
        {
            "AB.order.monitor": {
                "low_respiratory_rate": "8 /min",
                "low_spo2": "92 %",
                "high_etco2": "50 mmHg",
                "apnea_time": "20 s",
            },
            "AB.device.monitor.low_respiratory_rate": "6 /min",
            "AB.device.monitor.low_spo2": "85 %",
            "AB.device.monitor.high_etco2": "65 mmHg",
            "AB.device.monitor.apnea_time": "0.5 min",
        },
        [
            "stop device-differs monitor.low_respiratory_rate",
            "stop device-differs monitor.low_spo2",
            "stop device-differs monitor.high_etco2",
            "stop device-differs monitor.apnea_time",
        ],
    ),
    "capnography ordered and off": (
        {
            "AB.order.monitor.capnography": "on",
            "AB.device.monitor.capnography": "off",
            "policy.capnography_required": "never",
        },
        ["stop device-differs monitor.capnography"],
    ),
    "another syringe size on the device than on the barrel": (
        {"AB.label.syringe_size": "50 mL", "AB.device.syringe_size": "30 mL"},
        ["stop syringe-size-differs syringe_size"],
    ),
    "a narrower barrel than the size set": (
        {"AB.label.syringe_size": "20 mL", "AB.device.syringe_size": "30 mL"},
        ["stop syringe-size-differs syringe_size"],
    ),
    "an ordered syringe size takes no part": (
        {
            "AB.order.syringe_size": "20 mL",
            "AB.label.syringe_size": "50 mL",
            "AB.device.syringe_size": "50 mL",
        },
        [],
    ),
    "a value that only B read stands for both": (
        {"A.order.carrier.fluid": "sodium chloride 0.9%", "B.device.carrier.fluid": "Ringer"},
        ["stop device-differs carrier.fluid", "caution carrier-not-listed carrier.fluid B"],
    ),
}
