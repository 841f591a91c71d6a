"""Several limits, devices in volumes, alarms, the primed volume, what is said once; and what just is not."""

from tests.comparison.builders import ABSENT
from tests.comparison.row_words import LIMIT, MORPHINE, TOLERANT, WITH_RATE, Row

HOUR = {"amount": "4 mg", "window": "1 h"}
TWO = [HOUR, LIMIT]
IN_VOLUMES: dict[str, object] = {
    "AB.device.amount": ABSENT,
    "AB.device.concentration": ABSENT,
    "AB.device.demand_dose": "1 mL",
}
BOLUS = {"dose": "2 mg", "interval": "10 min", "most": "8 mg", "window": "4 h"}
BOUNDS = {"low_spo2": {"lowest": "88 %", "highest": "94 %", "required": True}}
LINE = {"policy.prime_volume": "1.6 mL", "policy.prime_tolerance": "0.2 mL"}


def above(field: str, bound: str, **changes: object) -> dict[str, object]:
    return {f"{MORPHINE}.limits": [{"field": field, "soft_high": bound}], **changes}


ROWS: dict[str, Row] = {
    # several limits
    "two limits, the longer one first": ({"AB.order.limit": TWO, "AB.device.limit": TWO[::-1]}, []),
    "one limit as a list of one": ({"AB.order.limit": LIMIT, "AB.device.limit": [LIMIT]}, []),
    "a second limit that is not set": (
        {"AB.order.limit": TWO, "AB.device.limit": LIMIT},
        [
            "stop device-differs limit.amount",
            "stop device-differs limit.window",
            "stop device-differs limit.2.amount",
            "stop device-differs limit.2.window",
        ],
    ),
    "a third limit that one did not see": (
        {
            "AB.settings.limit": [*TWO, {"amount": "30 mg", "window": "24 h"}],
            "B.device.limit": TWO,
        },
        ["stop readings-differ limit.3.amount", "stop readings-differ limit.3.window"],
    ),
    "the amount of a second limit that was not read": (
        {"AB.settings.limit": TWO, "A.device.limit": [HOUR, {"amount": None, "window": "4 h"}]},
        ["stop reading-missing limit.2.amount"],
    ),
    "limits that were not read": (
        {"AB.order.limit": TWO, "AB.device.limit": ABSENT},
        ["stop reading-missing limit.amount", "stop reading-missing limit.window"],
    ),
    "a second limit below the dose": (
        {"AB.settings.limit": [HOUR, {"amount": "0.5 mg", "window": "4 h"}]},
        ["stop limit-below-dose limit.2.amount"],
    ),
    "a second limit that the continuous part fills": (
        {**WITH_RATE, "AB.settings.limit": [HOUR, {"amount": "2.5 mg", "window": "4 h"}]},
        ["stop limit-blocks-demands limit.2.amount", "caution limit-is-passed limit.2.amount"],
    ),
    "limits of which the record has another": (
        {"AB.settings.limit": TWO, "order_of_record.limit": [HOUR, {"amount": "9 mg", "window": "4 h"}]},
        ["stop order-differs-from-record limit.2.amount"],
    ),
    # devices in volumes
    "a device in volumes that is set as ordered": (
        {**IN_VOLUMES, "AB.settings.limit": LIMIT, "AB.device.limit": {"amount": "10 mL", "window": "4 h"}},
        [],
    ),
    "a device in volumes with another dose": (
        {**IN_VOLUMES, "AB.device.demand_dose": "2 mL"},
        ["stop device-differs demand_dose"],
    ),
    "a device in volumes with a rate that is not ordered": (
        {
            **IN_VOLUMES,
            **TOLERANT,
            "AB.device.mode": "demand-and-continuous",
            "AB.device.continuous_rate": "0.5 mL/h",
        },
        ["stop device-differs mode", "stop device-differs continuous_rate"],
    ),
    "a device in volumes of which nobody knows the strength": (
        {**IN_VOLUMES, "AB.label.volume": None, "AB.device.loading_dose": "3 mL"},
        ["stop reading-missing concentration"],
    ),
    "a rate in volumes that the mode does not have, of unknown strength": (
        {**IN_VOLUMES, "AB.label.volume": None, "AB.device.continuous_rate": "3 mL/h"},
        ["stop reading-missing concentration", "stop mode-conflict mode"],
    ),
    "a zero rate in volumes and none": ({**IN_VOLUMES, "A.device.continuous_rate": "0 mL/h"}, []),
    "a device that one reads in volumes": (
        {"A.device.amount": ABSENT, "A.device.volume": ABSENT, "A.device.demand_dose": "1 mL"},
        ["stop readings-differ demand_dose"],
    ),
    "volumes typed in two ways, of masses typed in one": (
        {
            "AB.all.amount": "5 g",
            "AB.order.demand_dose": "2 g",
            "AB.device.amount": ABSENT,
            "A.device.demand_dose": "20 mL",
            "B.device.demand_dose": "0.02 L",
        },
        ["note syringe-short volume", "note notation-differs demand_dose"],
    ),
    "a rate of unknown strength breaks no bound": (
        {
            **IN_VOLUMES,
            **WITH_RATE,
            "AB.device.continuous_rate": "3 mL/h",
            "AB.label.volume": None,
            f"{MORPHINE}.limits": [{"field": "continuous_rate", "hard_low": "0.1 mg/h"}],
        },
        ["stop reading-missing concentration"],
    ),
    "the strength of a device in volumes is the label's": (
        {
            **IN_VOLUMES,
            "AB.label.amount": "250 mg",
            "AB.device.demand_dose": "0.2 mL",
            f"{MORPHINE}.concentrations": ["1 mg/mL"],
        },
        ["stop label-differs concentration", "stop concentration-not-in-library concentration"],
    ),
    # what staff may give
    "a bolus given by staff, read alike": ({"AB.order.staff_bolus": BOLUS}, []),
    "a bolus given by staff, another dose": (
        {"A.order.staff_bolus": BOLUS, "B.order.staff_bolus": {**BOLUS, "dose": "3 mg"}},
        ["stop readings-differ staff_bolus.dose"],
    ),
    "a bolus given by staff, and none": (
        {"A.order.staff_bolus": BOLUS, "B.order.staff_bolus": None},
        [
            "stop readings-differ staff_bolus.dose",
            "stop readings-differ staff_bolus.interval",
            "stop readings-differ staff_bolus.most",
            "stop readings-differ staff_bolus.window",
        ],
    ),
    "a bolus given by staff that one did not read": ({"A.order.staff_bolus": BOLUS}, []),
    "a bolus given by staff that the record has otherwise": (
        {"AB.order.staff_bolus": BOLUS, "order_of_record.staff_bolus": {**BOLUS, "most": "6 mg"}},
        ["stop order-differs-from-record staff_bolus.most"],
    ),
    # what is needed of label and device
    "use-by date and sizes that were not read": (
        {"A.label.use_by": ABSENT, "B.label.syringe_size": None, "A.device.syringe_size": None},
        ["stop reading-missing syringe_size", "stop reading-missing use_by"],
    ),
    "a use-by date, and none printed": (
        {"A.label.use_by": "2031-06-01"},
        ["stop readings-differ use_by"],
    ),
    "a month and its last day": ({"A.label.use_by": "2031-06", "B.label.use_by": "2031-06-30"}, []),
    "a lot with spaces and in another case, a code with what the scanner adds": (
        {
            "A.label.lot": "lm 0417 a",
            "B.label.lot": "LM0417A",
            "A.label.code": "]d20104",
            "B.label.code": "0104",
        },
        [],
    ),
    "a code in another case is another one": (
        {"A.label.code": "AB", "B.label.code": "ab"},
        ["stop readings-differ code"],
    ),
    # alarms
    "alarms at their bounds": (
        {
            "policy.alarm_bounds": BOUNDS,
            "A.device.monitor.low_spo2": "88 %",
            "B.device.monitor.low_spo2": "94 %",
        },
        ["stop readings-differ monitor.low_spo2"],
    ),
    "an alarm below its lowest": (
        {"policy.alarm_bounds": BOUNDS, "AB.device.monitor.low_spo2": "87.9 %"},
        ["stop alarm-outside-bounds monitor.low_spo2"],
    ),
    "an alarm above its highest": (
        {"policy.alarm_bounds": BOUNDS, "AB.device.monitor.low_spo2": "94.1 %"},
        ["stop alarm-outside-bounds monitor.low_spo2"],
    ),
    "a required alarm that is off": (
        {"policy.alarm_bounds": BOUNDS, "AB.device.monitor.low_spo2": None},
        ["stop alarm-not-set monitor.low_spo2"],
    ),
    "a required alarm that was not read": (
        {"policy.alarm_bounds": BOUNDS, "A.device.monitor.low_spo2": "90 %"},
        ["stop reading-missing monitor.low_spo2"],
    ),
    "an alarm that is off and not required": (
        {
            "policy.alarm_bounds": {"apnea_time": {"highest": "30 s"}, "high_etco2": None},
            "AB.device.monitor.apnea_time": None,
        },
        [],
    ),
    "an alarm that is off, as one read it": (
        {"A.device.monitor.apnea_time": None, "B.device.monitor.apnea_time": "30 s"},
        ["stop readings-differ monitor.apnea_time"],
    ),
    # the primed volume
    "primed volumes that lie as far apart as allowed": (
        {**LINE, "A.primed_volume": "1.5 mL", "B.primed_volume": "1.7 mL"},
        [],
    ),
    "primed volumes that lie too far apart": (
        {**LINE, "A.primed_volume": "1.5 mL", "B.primed_volume": "1.71 mL"},
        ["stop primed-volume-differs primed_volume"],
    ),
    "primed volumes where the site allows no difference": (
        {"A.primed_volume": "1.6 mL", "B.primed_volume": "1.61 mL"},
        ["stop primed-volume-differs primed_volume"],
    ),
    "a primed volume below the set's": (
        {**LINE, "AB.primed_volume": "1.39 mL"},
        ["stop primed-volume-below-set primed_volume"],
    ),
    "a primed volume above the set's, which one read": (
        {**LINE, "B.primed_volume": "1.81 mL"},
        ["caution primed-volume-above-set primed_volume B"],
    ),
    "primed volumes at both bounds of the set's": (
        {**LINE, "policy.prime_tolerance": "0.4 mL", "A.primed_volume": "1.6 mL", "B.primed_volume": "2 mL"},
        [],
    ),
    "a primed volume of a set of which the site says nothing": (
        {"policy.prime_tolerance": "0.2 mL", "AB.primed_volume": "0 mL"},
        [],
    ),
    # cautions: one fact, one answer
    "a rate above the usual, in a patient who is not tolerant": (
        above("continuous_rate", "0 mg/h", **{**WITH_RATE, "AB.chart.opioid_tolerant": "no"}),
        ["caution continuous-opioid-naive continuous_rate"],
    ),
    "a rate above the usual that is raised to a stop is said": (
        above(
            "continuous_rate",
            "0 mg/h",
            **{
                **WITH_RATE,
                "AB.chart.opioid_tolerant": "no",
                "policy.raise_to_stop": ["above-soft-limit"],
            },
        ),
        ["stop above-soft-limit continuous_rate", "caution continuous-opioid-naive continuous_rate"],
    ),
    "an amount above the usual where a limit is required and none is set": (
        above("amount_per_hour", "5 mg", **{f"{MORPHINE}.limit_required": True}),
        ["caution limit-required limit.amount"],
    ),
    "the first hour above the usual beside the hour": (
        {
            f"{MORPHINE}.limits": [
                {"field": "amount_per_hour", "hard_high": "5 mg"},
                {"field": "first_hour_with_loading", "soft_high": "5 mg"},
            ]
        },
        ["stop above-hard-limit amount_per_hour"],
    ),
    "the first hour above the usual alone": (
        above("first_hour_with_loading", "6 mg", **{"AB.settings.loading_dose": "1 mg"}),
        ["caution above-soft-limit first_hour_with_loading"],
    ),
    "the first hour of which nobody knows the loading dose": (
        above("first_hour_with_loading", "1 mg", **{"AB.device.loading_dose": ABSENT}),
        ["stop reading-missing loading_dose"],
    ),
    "a limit that is passed, of which the library judges the same time": (
        above(
            "first_hour_with_loading",
            "6 mg",
            **{
                "policy.limit_counts_loading": False,
                "AB.settings.loading_dose": "2 mg",
                "AB.settings.limit": {"amount": "6 mg", "window": "1 h"},
            },
        ),
        ["caution above-soft-limit first_hour_with_loading"],
    ),
    "a limit that is passed, of which the library judges another time": (
        above(
            "first_hour_with_loading",
            "6 mg",
            **{
                "policy.limit_counts_loading": False,
                "AB.settings.loading_dose": "2 mg",
                "AB.settings.limit": {"amount": "12 mg", "window": "2 h"},
            },
        ),
        ["caution above-soft-limit first_hour_with_loading", "caution limit-is-passed limit.amount"],
    ),
    "a caution that the site raises to a stop": (
        {"AB.settings.demand_dose": "5 mcg", "policy.raise_to_stop": ["dose-below-step"]},
        ["stop dose-below-step demand_dose"],
    ),
}
