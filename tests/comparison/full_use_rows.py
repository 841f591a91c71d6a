"""The label's date, the smallest step, the syringe, full use, notation; and what just is nothing."""

from tests.comparison.builders import ABSENT
from tests.comparison.row_words import TOLERANT, Row

ROWS: dict[str, Row] = {
    # the label's date
    "a label that was good until the day before": (
        {"AB.label.use_by": "2031-05-01"},
        ["stop label-expired use_by"],
    ),
    "a label that is good until today": ({"AB.label.use_by": "2031-05-02"}, []),
    "a label that is good until this instant": (
        {"AB.label.use_by": "2031-05-02T12:10Z"},
        ["note expires-soon use_by"],
    ),
    "a label that expires in less than eight hours": (
        {"AB.label.use_by": "2031-05-02T22:09:59.999+02:00"},
        ["note expires-soon use_by"],
    ),
    "a label that expires in exactly eight hours": (
        {"AB.label.use_by": "2031-05-02T22:10+02:00"},
        [],
    ),
    "a label that expires too soon by the policy's own time, at the end of the day there": (
        {"AB.label.use_by": "2031-05-02", "policy.note_if_expires_within": "10 h"},
        ["note expires-soon use_by"],
    ),
    "a label that bears a month is good until its last day": (
        {"AB.label.use_by": "2031-05", "policy.note_if_expires_within": "600 h"},
        [],
    ),
    "a label that bears a month which is over": (
        {"AB.label.use_by": "2031-04"},
        ["stop label-expired use_by"],
    ),
    "a label that was good until an instant ago": (
        {"AB.label.use_by": "2031-05-02T12:09:59.999Z"},
        ["stop label-expired use_by"],
    ),
    "a label that is past where one of them is": (
        {"AB.label.use_by": "2031-05-02", "B.read_at": "2031-05-03T01:00:00+03:00"},
        ["stop label-expired use_by B"],
    ),
    "a label of which nobody knows when it was read": (
        {"AB.label.use_by": "2001-01-01", "AB.read_at": None},
        [],
    ),
    # steps, syringe, full use
    "a dose between two steps": (
        {"policy.smallest_volume_step": "0.3 mL"},
        ["caution dose-below-step demand_dose"],
    ),
    "a dose below the first step": (
        {"AB.settings.demand_dose": "5 mcg"},
        ["caution dose-below-step demand_dose"],
    ),
    "a dose of exactly one step": ({"AB.settings.demand_dose": "10 mcg"}, []),
    "a dose between two steps that the mode does not use": (
        {
            **TOLERANT,
            "AB.settings.mode": "continuous",
            "AB.settings.continuous_rate": "1 mg/h",
            "policy.smallest_volume_step": "0.3 mL",
        },
        [],
    ),
    "a syringe that is short": (
        {"AB.all.amount": "23 mg", "AB.all.volume": "23 mL"},
        ["note syringe-short volume"],
    ),
    "a syringe that lasts just long enough": ({"AB.all.amount": "24 mg", "AB.all.volume": "24 mL"}, []),
    "a syringe that is short by the policy's own time": (
        {"policy.note_if_syringe_shorter_than": "9 h"},
        ["note syringe-short volume"],
    ),
    "a syringe that is short after priming and loading": (
        {"policy.prime_volume": "20 mL", "AB.settings.loading_dose": "7 mg"},
        ["note syringe-short volume"],
    ),
    "a limit that the loading dose passes where it does not count": (
        {
            "policy.limit_counts_loading": False,
            "AB.settings.loading_dose": "5 mg",
            "AB.settings.limit": {"amount": "24 mg", "window": "4 h"},
        },
        ["caution limit-is-passed limit.amount"],
    ),
    "a limit that loading dose and demands just meet": (
        {
            "policy.limit_counts_loading": False,
            "AB.settings.loading_dose": "5 mg",
            "AB.settings.limit": {"amount": "29 mg", "window": "4 h"},
        },
        [],
    ),
    "a limit that cuts in": (
        {"AB.settings.limit": {"amount": "10 mg", "window": "4 h"}},
        [],
    ),
    "a limit of one demand": (
        {"AB.settings.limit": {"amount": "1.5 mg", "window": "4 h"}},
        [],
    ),
    "a limit that the loading dose fills": (
        {"AB.settings.loading_dose": "4 mg", "AB.settings.limit": {"amount": "4 mg", "window": "4 h"}},
        [],
    ),
    "a limit that the loading dose fills for a day": (
        {"AB.settings.loading_dose": "4 mg", "AB.settings.limit": {"amount": "4 mg", "window": "24 h"}},
        [],
    ),
    "a limit that never refuses": (
        {"AB.settings.limit": {"amount": "24 mg", "window": "4 h"}},
        [],
    ),
    "a limit that cuts in as one read it, and otherwise as the other did": (
        {
            "AB.settings.limit": {"amount": "10 mg", "window": "4 h"},
            "B.device.limit": {"amount": "9 mg", "window": "4 h"},
        },
        ["stop readings-differ limit.amount"],
    ),
    "nothing is said of full use without a loading dose read": (
        {
            "AB.settings.limit": {"amount": "10 mg", "window": "4 h"},
            "AB.device.loading_dose": ABSENT,
        },
        ["stop reading-missing loading_dose"],
    ),
    "nothing is said of full use without a mode": (
        {"AB.settings.limit": {"amount": "10 mg", "window": "4 h"}, "AB.device.mode": None},
        ["stop reading-missing mode"],
    ),
    # notation-differs
    "a dose in other units": (
        {"A.device.demand_dose": "1000 mcg"},
        ["note notation-differs demand_dose"],
    ),
    "a dose that A and B write differently": (
        {"B.settings.demand_dose": "1000 mcg"},
        ["note notation-differs demand_dose"],
    ),
    "a concentration beside amount and volume elsewhere": (
        {"AB.label.amount": None, "AB.label.volume": None, "AB.label.concentration": "1 mg/mL"},
        ["note notation-differs concentration"],
    ),
    "a record in other units is no other notation": ({"order_of_record.demand_dose": "1000 mcg"}, []),
    "names in other cases are no quantities": ({"A.order.drug": "Morphine"}, []),
    "a zero rate and none are no two notations": ({"A.device.continuous_rate": "0 mg/h"}, []),
    "two zero rates in two units": (
        {"A.device.continuous_rate": "0 mg/h", "B.device.continuous_rate": "0 mcg/h"},
        ["note notation-differs continuous_rate"],
    ),
    "an amount in other units beside a concentration that differs": (
        {"A.label.amount": "50000 mcg", "AB.device.volume": "25 mL"},
        ["stop device-differs concentration", "note notation-differs amount"],
    ),
    "an amount that differs beside a concentration that differs": (
        {"AB.device.amount": "25000 mcg"},
        ["stop device-differs concentration"],
    ),
    "a limit in other units": (
        {
            "AB.settings.limit": {"amount": "30 mg", "window": "4 h"},
            "A.order.limit": {"amount": "30000 mcg", "window": "240 min"},
        },
        [
            "note notation-differs limit.amount",
            "note notation-differs limit.window",
        ],
    ),
}
