"""Every finding of the contract's table: what brings it about, and what just does not.

Each row changes the case in which nothing is found (`builders.case_with`) and lists all that is found then.
"""

from tests.comparison.builders import ABSENT

LIMIT = {"amount": "10 mg", "window": "4 h"}
NEVER_REFUSES = "note limit-never-refuses limit.amount"
CONCENTRATION_IN_OTHER_WORDS = "note notation-differs concentration"
BOTH = "demand-and-continuous"
TOLERANT = {"patient.opioid_naive": False}
WITH_RATE = {"AB.settings.mode": BOTH, "AB.settings.continuous_rate": "0.5 mg/h", **TOLERANT}
MORPHINE = "library.morphine"

Row = tuple[dict[str, object], list[str]]

ROWS: dict[str, Row] = {
    "nothing": ({}, []),
    # reading-missing
    "drug missing in the order": ({"A.order.drug": None}, ["stop reading-missing drug"]),
    "drug blank on the label": ({"B.label.drug": "  "}, ["stop reading-missing drug"]),
    "drug missing on the device": ({"B.device.drug": ABSENT}, ["stop reading-missing drug"]),
    "volume alone gives no concentration": (
        {"A.label.amount": None},
        ["stop reading-missing concentration"],
    ),
    "amount alone gives no concentration": (
        {"A.device.volume": None},
        ["stop reading-missing concentration"],
    ),
    "an order with an amount does not say that it states no concentration": (
        {"A.order.volume": None, "A.order.concentration": None},
        ["stop reading-missing concentration"],
    ),
    "an order that keeps silent about the concentration": (
        {"B.order.volume": None, "B.order.amount": None},
        ["stop reading-missing concentration"],
    ),
    "a device cannot say that it states no concentration": (
        {"AB.device.volume": None, "AB.device.amount": None, "AB.device.concentration": None},
        ["stop reading-missing concentration"],
    ),
    "a label cannot say that it states no concentration": (
        {"A.label.volume": None, "A.label.amount": None, "A.label.concentration": None},
        ["stop reading-missing concentration"],
    ),
    "a concentration as stated is enough": (
        {
            "AB.all.amount": ABSENT,
            "AB.all.volume": ABSENT,
            "AB.all.concentration": "1 mg/mL",
        },
        [],
    ),
    "mode missing": ({"A.device.mode": None}, ["stop reading-missing mode"]),
    "dose missing": ({"A.order.demand_dose": None}, ["stop reading-missing demand_dose"]),
    "lockout missing": ({"B.device.lockout": ABSENT}, ["stop reading-missing lockout"]),
    "limit not read": (
        {"B.order.limit": ABSENT},
        ["stop reading-missing limit.amount", "stop reading-missing limit.window"],
    ),
    "half a limit read": (
        {"AB.settings.limit": LIMIT, "A.device.limit": {"amount": "10 mg"}},
        [
            "stop reading-missing limit.window",
            "note limit-cuts-in limit.amount B",
        ],
    ),
    "the other half of a limit read": (
        {"AB.settings.limit": LIMIT, "A.device.limit": {"amount": None, "window": "4 h"}},
        [
            "stop reading-missing limit.amount",
            "note limit-cuts-in limit.amount B",
        ],
    ),
    "loading dose not read": ({"A.device.loading_dose": ABSENT}, ["stop reading-missing loading_dose"]),
    "rate missing where the mode needs one": (
        {**WITH_RATE, "A.device.continuous_rate": None},
        ["stop reading-missing continuous_rate"],
    ),
    "rate absent where the mode needs one": (
        {**WITH_RATE, "B.order.continuous_rate": ABSENT},
        ["stop reading-missing continuous_rate"],
    ),
    "a continuous mode needs no dose and no lockout": (
        {
            **TOLERANT,
            "AB.settings.mode": "continuous",
            "AB.settings.continuous_rate": "0.5 mg/h",
            "AB.settings.demand_dose": ABSENT,
            "AB.settings.lockout": None,
        },
        [],
    ),
    "a required monitor not read": (
        {"A.device.monitor": None},
        ["stop reading-missing monitor.capnography", "stop reading-missing monitor.pulse_oximetry"],
    ),
    "a monitor that is not required": (
        {
            "A.device.monitor": None,
            "policy.capnography_required": False,
            "policy.pulse_oximetry_required": False,
        },
        [],
    ),
    "the wristband not read": (
        {"A.patient": None, "B.patient.identifier": " "},
        ["stop reading-missing patient.identifier", "stop reading-missing patient.birth_date"],
    ),
    # readings-differ
    "order read differently": ({"A.order.lockout": "12 min"}, ["stop readings-differ lockout"]),
    "label read differently": (
        {"B.label.amount": "60 mg"},
        ["stop readings-differ concentration"],
    ),
    "device read differently": ({"B.device.demand_dose": "2 mg"}, ["stop readings-differ demand_dose"]),
    "one device read with a limit": (
        {"B.device.limit": LIMIT},
        [
            "stop readings-differ limit.amount",
            "stop readings-differ limit.window",
            "note limit-cuts-in limit.amount B",
        ],
    ),
    "one order read without concentration": (
        {"A.order.amount": ABSENT, "A.order.volume": ABSENT, "A.order.concentration": None},
        ["stop readings-differ concentration"],
    ),
    "lot, use-by date and code read differently": (
        {
            "A.label.lot": "L1",
            "B.label.lot": "l1",
            "A.label.use_by": "2031-06-01",
            "B.label.use_by": "2031-06-02",
            "A.label.code": "X 1",
            "B.label.code": "X 2",
        },
        ["stop readings-differ lot", "stop readings-differ use_by", "stop readings-differ code"],
    ),
    "one instant in two zones": (
        {"A.label.use_by": "2031-06-01T08:00Z", "B.label.use_by": "2031-06-01T09:00:00.0+01:00"},
        [],
    ),
    "what is not needed and one did not read": (
        {"A.label.lot": "L1", "A.label.syringe_size": "60 mL", "B.device.syringe_size": "60 mL"},
        [],
    ),
    "what was not needed and is blank": ({"A.label.lot": "L1", "B.label.lot": " "}, []),
    "a name in another case": ({"A.order.drug": " Morphine ", "B.device.drug": "MORPHINE"}, []),
    # order-differs-from-record
    "the record has another dose": (
        {"order_of_record.demand_dose": "2 mg"},
        ["stop order-differs-from-record demand_dose"],
    ),
    "the record has no limit": (
        {"AB.settings.limit": {"amount": "60 mg", "window": "4 h"}, "order_of_record.limit": None},
        [
            "stop order-differs-from-record limit.amount",
            "stop order-differs-from-record limit.window",
            NEVER_REFUSES,
        ],
    ),
    "the record has a loading dose and the order has none": (
        {"order_of_record.loading_dose": "2 mg"},
        ["stop order-differs-from-record loading_dose"],
    ),
    "the record has no concentration": (
        {"order_of_record.concentration": None},
        ["stop order-differs-from-record concentration"],
    ),
    "the order has no concentration and the record has one": (
        {
            "AB.order.amount": None,
            "AB.order.volume": None,
            "AB.order.concentration": None,
            "order_of_record.concentration": "1 mg/mL",
        },
        ["stop order-differs-from-record concentration"],
    ),
    "neither order nor record states a concentration": (
        {
            "AB.order.amount": None,
            "AB.order.volume": None,
            "AB.order.concentration": None,
            "order_of_record.concentration": None,
        },
        [],
    ),
    "a rate that the record says is none": (
        {**WITH_RATE, "order_of_record.continuous_rate": None},
        ["stop order-differs-from-record continuous_rate"],
    ),
    "a rate that the record does not mention": (
        {**WITH_RATE, "order_of_record.drug": "morphine"},
        [],
    ),
    "a record that agrees in other units": (
        {
            "order_of_record": {
                "drug": "MORPHINE",
                "concentration": "1 g/L",
                "mode": "demand",
                "demand_dose": "1000 mcg",
                "lockout": "600 s",
                "limit": None,
                "loading_dose": None,
                "syringe_size": "10 mL",
            }
        },
        [],
    ),
    "the record is not compared with the device": (
        {"AB.device.demand_dose": "2 mg", "order_of_record.demand_dose": "1 mg"},
        ["stop device-differs demand_dose"],
    ),
    "a record that differs comes before a label that differs": (
        {"AB.label.drug": "hydromorphone", "order_of_record.drug": "fentanyl"},
        ["stop order-differs-from-record drug"],
    ),
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
        ["stop label-differs amount", "stop label-differs volume", CONCENTRATION_IN_OTHER_WORDS],
    ),
    "the same concentration in a smaller syringe, set so": (
        {"AB.device.amount": "25 mg", "AB.device.volume": "25 mL"},
        ["stop device-differs amount", "stop device-differs volume", CONCENTRATION_IN_OTHER_WORDS],
    ),
    "an order that states no concentration leaves it to the label": (
        {
            "AB.order.amount": None,
            "AB.order.volume": None,
            "AB.order.concentration": None,
            "AB.device.amount": "100 mg",
            "AB.device.volume": "100 mL",
        },
        ["stop device-differs amount", "stop device-differs volume", CONCENTRATION_IN_OTHER_WORDS],
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
        ["stop device-differs limit.amount", NEVER_REFUSES],
    ),
    "a lower limit": (
        {
            "AB.settings.limit": {"amount": "40 mg", "window": "4 h"},
            "AB.device.limit": {"amount": "30 mg", "window": "4 h"},
        },
        ["stop device-differs limit.amount", NEVER_REFUSES],
    ),
    "a limit for a shorter time": (
        {
            "AB.settings.limit": {"amount": "30 mg", "window": "4 h"},
            "AB.device.limit": {"amount": "30 mg", "window": "1 h"},
        },
        ["stop device-differs limit.window", NEVER_REFUSES],
    ),
    "a limit for a longer time": (
        {
            "AB.settings.limit": {"amount": "30 mg", "window": "1 h"},
            "AB.device.limit": {"amount": "30 mg", "window": "4 h"},
        },
        ["stop device-differs limit.window", NEVER_REFUSES],
    ),
    "a limit of as much an hour is another limit": (
        {
            "AB.settings.limit": {"amount": "6 mg", "window": "1 h"},
            "AB.device.limit": {"amount": "24 mg", "window": "4 h"},
        },
        ["stop device-differs limit.amount", "stop device-differs limit.window", NEVER_REFUSES],
    ),
    "a limit that is not ordered": (
        {"AB.device.limit": {"amount": "30 mg", "window": "4 h"}},
        ["stop device-differs limit.amount", "stop device-differs limit.window", NEVER_REFUSES],
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
            "stop device-differs carrier.rate",
            "stop carrier-not-allowed carrier.fluid",
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
            "policy.capnography_required": False,
        },
        ["stop device-differs monitor.capnography"],
    ),
    "another syringe size on the device than on the barrel": (
        {"AB.label.syringe_size": "50 mL", "AB.device.syringe_size": "30 mL"},
        ["stop device-differs syringe_size"],
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
        {"B.label.syringe_size": "50 mL", "A.device.syringe_size": "30 mL"},
        ["stop device-differs syringe_size"],
    ),
    # patient-differs
    "two different identifiers": (
        {"B.patient.identifier": "INVENTED-0471", "patient.identifier": "INVENTED-0417"},
        ["stop patient-differs patient.identifier"],
    ),
    "two different birth dates": (
        {"A.patient.birth_date": "1961-09-04"},
        ["stop patient-differs patient.birth_date"],
    ),
    "another patient than the infusion's": (
        {"patient.identifier": "INVENTED-0002", "patient.birth_date": "1970-01-01"},
        ["stop patient-differs patient.identifier", "stop patient-differs patient.birth_date"],
    ),
    "the infusion's patient": (
        {
            "patient.identifier": " INVENTED-0417",
            "patient.birth_date": "1961-04-09",
            "A.patient.identifier": "INVENTED-0417 ",
        },
        [],
    ),
    "an identifier in another case is another one": (
        {"A.patient.identifier": "invented-0417"},
        ["stop patient-differs patient.identifier"],
    ),
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
        ["stop limit-below-dose limit.amount", "note limit-cuts-in limit.amount"],
    ),
    "a limit of one dose": (
        {"AB.settings.limit": {"amount": "1 mg", "window": "4 h"}},
        ["note limit-cuts-in limit.amount"],
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
            "note limit-cuts-in limit.amount",
        ],
    ),
    "a limit below dose and continuous part": (
        {**WITH_RATE, "AB.settings.limit": {"amount": "0.5 mg", "window": "4 h"}},
        [
            "stop limit-below-dose limit.amount",
            "stop limit-below-continuous limit.amount",
            "caution limit-is-passed limit.amount",
            "note limit-cuts-in limit.amount",
        ],
    ),
    "a limit below a continuous part that it does not count": (
        {
            **WITH_RATE,
            "policy.limit_counts_continuous": False,
            "AB.settings.limit": {"amount": "1.9 mg", "window": "4 h"},
        },
        ["caution limit-is-passed limit.amount", "note limit-cuts-in limit.amount"],
    ),
    "a limit that the continuous part nearly fills": (
        {**WITH_RATE, "AB.settings.limit": {"amount": "2.9 mg", "window": "4 h"}},
        [
            "stop limit-blocks-demands limit.amount",
            "caution limit-is-passed limit.amount",
            "note limit-cuts-in limit.amount",
        ],
    ),
    "a limit that the continuous part fills exactly": (
        {**WITH_RATE, "AB.settings.limit": {"amount": "2 mg", "window": "4 h"}},
        [
            "stop limit-blocks-demands limit.amount",
            "caution limit-is-passed limit.amount",
            "note limit-cuts-in limit.amount",
        ],
    ),
    "a limit with room for exactly one demand": (
        {**WITH_RATE, "AB.settings.limit": {"amount": "3 mg", "window": "4 h"}},
        ["caution limit-is-passed limit.amount", "note limit-cuts-in limit.amount"],
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
