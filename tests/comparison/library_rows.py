"""What the drug library and the policy find; and what they just do not."""

from tests.comparison.builders import ABSENT
from tests.comparison.row_words import MORPHINE, TOLERANT, WITH_RATE, Row


def bounded(field: str, **bounds: str) -> dict[str, object]:
    return {f"{MORPHINE}.limits": [{"field": field, **bounds}]}


ROWS: dict[str, Row] = {
    "an empty library": ({"library": {}}, ["stop drug-not-in-library drug"]),
    "no library": ({"library": None}, []),
    "a drug that is listed in another case": ({"library. MORPHINE ": None}, []),
    "a drug not read is not looked up": (
        {"library": {}, "AB.device.drug": None},
        ["stop reading-missing drug"],
    ),
    "a drug that one read and the library does not have": (
        {MORPHINE: {}, "B.device.drug": "morphium"},
        ["stop readings-differ drug", "stop drug-not-in-library drug B"],
    ),
    "at every bound": (
        {
            **WITH_RATE,
            "AB.settings.loading_dose": "2 mg",
            f"{MORPHINE}.limits": [
                {"field": field, "soft_low": bound, "soft_high": bound, "hard_low": bound, "hard_high": bound}
                for field, bound in {
                    "demand_dose": "1 mg",
                    "lockout": "10 min",
                    "continuous_rate": "500 mcg/h",
                    "loading_dose": "2 mg",
                    "amount_per_hour": "6.5 mg",
                    "amount_per_4_hours": "26 mg",
                }.items()
            ],
        },
        [],
    ),
    "above every soft bound": (
        {
            **WITH_RATE,
            "AB.settings.loading_dose": "2 mg",
            f"{MORPHINE}.limits": [
                {"field": field, "soft_high": bound}
                for field, bound in {
                    "demand_dose": "0.9 mg",
                    "lockout": "9 min",
                    "continuous_rate": "0 mg/h",
                    "loading_dose": "1.9 mg",
                    "amount_per_hour": "6.4 mg",
                    "amount_per_4_hours": "25.9 mg",
                }.items()
            ],
        },
        [
            "caution above-soft-limit demand_dose",
            "caution above-soft-limit lockout",
            "caution above-soft-limit continuous_rate",
            "caution above-soft-limit loading_dose",
            "caution above-soft-limit amount_per_hour",
            "caution above-soft-limit amount_per_4_hours",
        ],
    ),
    "below every hard bound": (
        {
            **WITH_RATE,
            "AB.settings.loading_dose": "2 mg",
            f"{MORPHINE}.limits": [
                {"field": field, "hard_low": bound, "soft_low": bound}
                for field, bound in {
                    "demand_dose": "1.1 mg",
                    "lockout": "11 min",
                    "continuous_rate": "0.6 mg/h",
                    "loading_dose": "2.1 mg",
                    "amount_per_hour": "6.6 mg",
                    "amount_per_4_hours": "26.1 mg",
                }.items()
            ],
        },
        [
            "stop below-hard-limit demand_dose",
            "stop below-hard-limit lockout",
            "stop below-hard-limit continuous_rate",
            "stop below-hard-limit loading_dose",
            "stop below-hard-limit amount_per_hour",
            "stop below-hard-limit amount_per_4_hours",
        ],
    ),
    "above a hard and a soft bound": (
        bounded("demand_dose", soft_high="0.5 mg", hard_high="0.9 mg"),
        ["stop above-hard-limit demand_dose"],
    ),
    "above a soft bound, within the hard one": (
        bounded("demand_dose", soft_high="0.5 mg", hard_high="1 mg"),
        ["caution above-soft-limit demand_dose"],
    ),
    "below a soft bound, within the hard one": (
        bounded("lockout", soft_low="12 min", hard_low="10 min"),
        ["caution below-soft-limit lockout"],
    ),
    "in two rows of one field the tightest bound is named": (
        {
            f"{MORPHINE}.limits": [
                {"field": "demand_dose", "hard_high": "0.8 mg", "hard_low": "3 mg"},
                {"field": "demand_dose", "hard_high": "0.4 mg", "hard_low": "2 mg"},
                {"field": "lockout", "hard_high": "9 min"},
            ]
        },
        [
            "stop above-hard-limit demand_dose",
            "stop above-hard-limit lockout",
            "stop below-hard-limit demand_dose",
        ],
    ),
    "no rate counts as zero": (
        bounded("continuous_rate", soft_low="0.1 mg/h"),
        ["caution below-soft-limit continuous_rate"],
    ),
    "an absent rate counts as zero": (
        {"AB.settings.continuous_rate": ABSENT, **bounded("continuous_rate", hard_low="0.1 mg/h")},
        ["stop below-hard-limit continuous_rate"],
    ),
    "a rate that the mode does not use counts as zero": (
        {"AB.settings.continuous_rate": "2 mg/h", **bounded("continuous_rate", hard_high="1 mg/h")},
        ["stop mode-conflict mode"],
    ),
    "a rate that was not read breaks no bound": (
        {**WITH_RATE, "AB.device.continuous_rate": None, **bounded("continuous_rate", hard_low="0.1 mg/h")},
        ["stop reading-missing continuous_rate"],
    ),
    "no loading dose breaks no bound": (bounded("loading_dose", hard_low="1 mg"), []),
    "a dose that the mode does not use breaks no bound": (
        {
            **TOLERANT,
            "AB.settings.mode": "continuous",
            "AB.settings.continuous_rate": "0.5 mg/h",
            f"{MORPHINE}.limits": [
                {"field": "demand_dose", "hard_high": "0.1 mg"},
                {"field": "lockout", "hard_low": "1 h"},
                {"field": "amount_per_hour", "soft_high": "0.4 mg"},
            ],
        },
        ["caution above-soft-limit amount_per_hour"],
    ),
    "figures that cannot be computed break no bound": (
        {"AB.device.limit": ABSENT, **bounded("amount_per_hour", hard_high="1 mg")},
        ["stop reading-missing limit.amount", "stop reading-missing limit.window"],
    ),
    "nor in four hours": (
        {"AB.device.limit": ABSENT, **bounded("amount_per_4_hours", hard_high="1 mg")},
        ["stop reading-missing limit.amount", "stop reading-missing limit.window"],
    ),
    "the loading dose is no part of an hour's amount": (
        {"AB.settings.loading_dose": "5 mg", **bounded("amount_per_hour", hard_high="6 mg")},
        [],
    ),
    "a concentration that is not listed": (
        {f"{MORPHINE}.concentrations": ["2 mg/mL", "5 mg/mL"]},
        ["stop concentration-not-in-library concentration"],
    ),
    "a concentration that is listed otherwise": (
        {f"{MORPHINE}.concentrations": ["2 mg/mL", "10 mg/10 mL"]},
        [],
    ),
    "a library that lists no concentrations": ({f"{MORPHINE}.concentrations": []}, []),
    "a concentration that was not read is not looked up": (
        {f"{MORPHINE}.concentrations": ["2 mg/mL"], "AB.device.volume": None},
        ["stop reading-missing concentration"],
    ),
    "an order that leaves the concentration open": (
        {
            "AB.order.amount": ABSENT,
            "AB.order.volume": ABSENT,
            "AB.order.concentration": None,
            f"{MORPHINE}.concentrations": ["1 mg/mL", "2 mg/mL", "5 mg/mL"],
        },
        ["caution concentration-unordered concentration"],
    ),
    "one order leaves the concentration open": (
        {
            "B.order.amount": ABSENT,
            "B.order.volume": ABSENT,
            "B.order.concentration": None,
            f"{MORPHINE}.concentrations": ["1 mg/mL", "2 mg/mL"],
        },
        ["stop readings-differ concentration", "caution concentration-unordered concentration B"],
    ),
    "one concentration leaves nothing open": (
        {
            "AB.order.amount": ABSENT,
            "AB.order.volume": ABSENT,
            "AB.order.concentration": None,
            f"{MORPHINE}.concentrations": ["1 mg/mL", "1000 mcg/mL", "50 mg/50 mL"],
        },
        [],
    ),
    "an order for a drug that is not listed leaves open what the library cannot say": (
        {
            "AB.all.drug": "pethidine",
            "AB.order.amount": ABSENT,
            "AB.order.volume": ABSENT,
            "AB.order.concentration": None,
            f"{MORPHINE}.concentrations": ["1 mg/mL", "2 mg/mL"],
        },
        ["stop drug-not-in-library drug"],
    ),
    "an order without drug leaves open what the library cannot say": (
        {
            "AB.order.drug": None,
            "AB.order.amount": ABSENT,
            "AB.order.volume": ABSENT,
            "AB.order.concentration": None,
            f"{MORPHINE}.concentrations": ["1 mg/mL", "2 mg/mL"],
        },
        ["stop reading-missing drug"],
    ),
    "the order's drug decides, not the device's": (
        {
            "AB.order.drug": "fentanyl",
            "AB.order.amount": ABSENT,
            "AB.order.volume": ABSENT,
            "AB.order.concentration": None,
            MORPHINE: {},
            "library.fentanyl.concentrations": ["10 mcg/mL", "50 mcg/mL"],
        },
        ["stop label-differs drug", "caution concentration-unordered concentration"],
    ),
    "a required limit": ({f"{MORPHINE}.limit_required": True}, ["caution limit-required limit.amount"]),
    "a limit that is not required": ({f"{MORPHINE}.limit_required": False}, []),
    "a required limit that was not read": (
        {f"{MORPHINE}.limit_required": True, "AB.device.limit": ABSENT},
        ["stop reading-missing limit.amount", "stop reading-missing limit.window"],
    ),
    "a required limit that is set": (
        {f"{MORPHINE}.limit_required": True, "AB.settings.limit": {"amount": "60 mg", "window": "4 h"}},
        [],
    ),
    # the patient and the policy
    "a continuous part for a naive patient": (
        {**WITH_RATE, "AB.chart.opioid_tolerant": "no"},
        ["caution continuous-opioid-naive continuous_rate"],
    ),
    "a continuous part for a patient of whom nothing is known": (
        {**WITH_RATE, "AB.chart.opioid_tolerant": "unknown"},
        ["caution continuous-opioid-naive continuous_rate"],
    ),
    "a continuous mode for a patient of whom nothing is known": (
        {"AB.settings.mode": "continuous", "AB.settings.continuous_rate": "1 mg/h"},
        ["caution continuous-opioid-naive continuous_rate"],
    ),
    "a carrier that the policy does not list": (
        {"AB.settings.carrier": {"fluid": "glucose 5%"}, "policy.carrier_fluids": ["saline", "Ringer"]},
        ["caution carrier-not-listed carrier.fluid"],
    ),
    "a carrier where the policy lists none": (
        {"A.device.carrier.fluid": "glucose 5%", "policy.carrier_fluids": []},
        ["caution carrier-not-listed carrier.fluid A"],
    ),
    "a carrier that the policy refuses": (
        {"AB.settings.carrier": {"fluid": "Glucose 5% "}, "policy.carrier_refused": ["glucose 5%"]},
        ["stop carrier-not-allowed carrier.fluid"],
    ),
    "a carrier that is refused and listed": (
        {
            "AB.settings.carrier": {"fluid": "glucose 5%"},
            "policy.carrier_refused": ["glucose 5%"],
            "policy.carrier_fluids": ["glucose 5%"],
        },
        ["stop carrier-not-allowed carrier.fluid"],
    ),
    "a carrier that the policy lists": (
        {"AB.settings.carrier": {"fluid": "Glucose 5%"}, "policy.carrier_fluids": [" glucose 5%"]},
        [],
    ),
    "both monitors off": (
        {
            "AB.device.monitor": {"capnography": "off", "pulse_oximetry": "off"},
            "policy.capnography_required": "always",
        },
        ["stop monitoring-off monitor.capnography", "stop monitoring-off monitor.pulse_oximetry"],
    ),
    "monitors off that the policy does not require": (
        {
            "AB.device.monitor": {"capnography": "off", "pulse_oximetry": "off"},
            "policy.capnography_required": "never",
            "policy.pulse_oximetry_required": None,
        },
        ["stop monitoring-off monitor.pulse_oximetry"],
    ),
}
