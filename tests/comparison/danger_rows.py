"""A mode that conflicts, two concentrations, limits without room; and what just is not."""

from tests.comparison.row_words import TOLERANT, WITH_RATE, Row

ROWS: dict[str, Row] = {
    # mode-conflict
    "a rate and a mode without one": (
        {"AB.settings.continuous_rate": "0.5 mg/h"},
        ["stop mode-conflict mode"],
    ),
    "a rate and a mode without one, for one of the two": (
        {"A.settings.continuous_rate": "0.5 mg/h"},
        ["stop readings-differ continuous_rate", "stop mode-conflict mode A"],
    ),
    "a rate of zero and a mode with one": (
        {**WITH_RATE, "AB.settings.continuous_rate": "0 mg/h"},
        ["stop mode-conflict mode"],
    ),
    "a rate of zero and a mode without one": ({"AB.device.continuous_rate": "0 mcg/h"}, []),
    "a rate and no mode": (
        {"AB.device.mode": None, "AB.device.continuous_rate": "0.5 mg/h"},
        ["stop reading-missing mode", "stop device-differs continuous_rate"],
    ),
    # concentration-inconsistent
    "two concentrations on the label": (
        {"AB.label.concentration": "5 mg/mL"},
        ["stop concentration-inconsistent concentration"],
    ),
    "two concentrations in two sources": (
        {"A.order.concentration": "5 mg/mL", "B.device.concentration": "2 mg/mL"},
        ["stop concentration-inconsistent concentration"],
    ),
    "two concentrations as one read them": (
        {"B.order.concentration": "5 mg/mL", "B.label.concentration": "4 mg/mL"},
        ["stop concentration-inconsistent concentration B"],
    ),
    "the concentration beside amount and volume": ({"AB.all.concentration": "1000 mcg/mL"}, []),
    # limits that leave no room
    "a limit below the dose": (
        {"AB.settings.limit": {"amount": "0.9 mg", "window": "4 h"}},
        ["stop limit-below-dose limit.amount"],
    ),
    "a limit of one dose": (
        {"AB.settings.limit": {"amount": "1 mg", "window": "4 h"}},
        [],
    ),
    "a limit below the dose that the mode does not use": (
        {
            **TOLERANT,
            "AB.settings.mode": "continuous",
            "AB.settings.continuous_rate": "0.1 mg/h",
            "AB.settings.limit": {"amount": "0.9 mg", "window": "4 h"},
        },
        [],
    ),
    "a limit below the continuous part": (
        {**WITH_RATE, "AB.settings.limit": {"amount": "1.9 mg", "window": "4 h"}},
        [
            "stop limit-below-continuous limit.amount",
            "caution limit-is-passed limit.amount",
        ],
    ),
    "a limit below dose and continuous part": (
        {**WITH_RATE, "AB.settings.limit": {"amount": "0.5 mg", "window": "4 h"}},
        [
            "stop limit-below-dose limit.amount",
            "stop limit-below-continuous limit.amount",
            "caution limit-is-passed limit.amount",
        ],
    ),
    "a limit below a continuous part that it does not count": (
        {
            **WITH_RATE,
            "policy.limit_counts_continuous": False,
            "AB.settings.limit": {"amount": "1.9 mg", "window": "4 h"},
        },
        ["caution limit-is-passed limit.amount"],
    ),
    "a limit that the continuous part nearly fills": (
        {**WITH_RATE, "AB.settings.limit": {"amount": "2.9 mg", "window": "4 h"}},
        [
            "stop limit-blocks-demands limit.amount",
            "caution limit-is-passed limit.amount",
        ],
    ),
    "a limit that the continuous part fills exactly": (
        {**WITH_RATE, "AB.settings.limit": {"amount": "2 mg", "window": "4 h"}},
        [
            "stop limit-blocks-demands limit.amount",
            "caution limit-is-passed limit.amount",
        ],
    ),
    "a limit with room for exactly one demand": (
        {**WITH_RATE, "AB.settings.limit": {"amount": "3 mg", "window": "4 h"}},
        ["caution limit-is-passed limit.amount"],
    ),
    "a limit that the continuous part alone meets": (
        {
            **TOLERANT,
            "AB.settings.mode": "continuous",
            "AB.settings.continuous_rate": "0.5 mg/h",
            "AB.settings.limit": {"amount": "2 mg", "window": "4 h"},
        },
        [],
    ),
    "a limit below a continuous part alone": (
        {
            **TOLERANT,
            "AB.settings.mode": "continuous",
            "AB.settings.continuous_rate": "0.5 mg/h",
            "AB.settings.limit": {"amount": "1.9 mg", "window": "4 h"},
        },
        ["stop limit-below-continuous limit.amount", "caution limit-is-passed limit.amount"],
    ),
}
