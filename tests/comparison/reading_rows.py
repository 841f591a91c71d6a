"""Readings that are missing, that differ, or that differ from the record; and what just does not."""

from tests.comparison.builders import ABSENT
from tests.comparison.row_words import LIMIT, TOLERANT, WITH_RATE, Row

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
    "nor does an order with a volume": (
        {"A.order.amount": None, "A.order.concentration": None},
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
        ],
    ),
    "the other half of a limit read": (
        {"AB.settings.limit": LIMIT, "A.device.limit": {"amount": None, "window": "4 h"}},
        [
            "stop reading-missing limit.amount",
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
        {"A.device.monitor": None, "policy.capnography_required": "always"},
        ["stop reading-missing monitor.capnography", "stop reading-missing monitor.pulse_oximetry"],
    ),
    "a monitor that is not required": (
        {
            "A.device.monitor": None,
            "policy.capnography_required": "never",
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
        ],
    ),
    "one order read without concentration": (
        {"A.order.amount": ABSENT, "A.order.volume": ABSENT, "A.order.concentration": None},
        ["stop readings-differ concentration"],
    ),
    "lot, use-by date and code read differently": (
        {
            "A.label.lot": "L1",
            "B.label.lot": "L2",
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
    "what is not needed and one did not read": ({"A.label.lot": "L1", "B.label.code": "C"}, []),
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
}
