"""Slips that show only beside another field, the settings before, the concentration or the weight."""

import pytest

from tests.comparison.builders import ABSENT
from tests.comparison.disagreements import BOTH, disagreement, set_otherwise

SWAPPED: list[tuple[str, dict[str, object], str, str | None]] = [
    (
        "dose and lockout, though 10 times",
        {
            "AB.order.demand_dose": "1 mg",
            "AB.order.lockout": "10 min",
            "AB.device.demand_dose": "10 mg",
            "AB.device.lockout": "1 min",
        },
        "demand_dose",
        "swapped-fields",
    ),
    (
        "half of a swap is none",
        {
            "AB.order.demand_dose": "3 mg",
            "AB.order.lockout": "8 min",
            "AB.device.demand_dose": "8 mg",
            "AB.device.lockout": "5 min",
        },
        "demand_dose",
        None,
    ),
    (
        "the other half of a swap is none",
        {
            "AB.order.demand_dose": "3 mg",
            "AB.order.lockout": "5 min",
            "AB.device.demand_dose": "8 mg",
            "AB.device.lockout": "3 min",
        },
        "demand_dose",
        None,
    ),
    (
        "the same number in another unit is no swap, though another field has it twice",
        {
            "AB.order.demand_dose": "2 mg",
            "AB.device.demand_dose": "2 mcg",
            "AB.settings.lockout": "2 min",
        },
        "demand_dose",
        "unit-slip",
    ),
    (
        "limit amount and window, at another limit than ordered",
        {
            "AB.order.limit": {"amount": "6 mg", "window": "4 h"},
            "AB.device.limit": {"amount": "4 mg", "window": "6 h"},
        },
        "limit.window",
        "swapped-fields",
    ),
    (
        "amount and volume are two numbers of their own",
        {
            "AB.all.amount": "30 mg",
            "AB.all.volume": "60 mL",
            "AB.device.amount": "60 mg",
            "AB.device.volume": "30 mL",
        },
        "concentration",
        None,
    ),
    (
        "a stated concentration is one number",
        {
            "AB.all.amount": ABSENT,
            "AB.all.volume": ABSENT,
            "AB.all.concentration": "2 mg/mL",
            "AB.device.concentration": "7 mg/mL",
            "AB.order.demand_dose": "7 mg",
            "AB.device.demand_dose": "2 mg",
        },
        "concentration",
        "swapped-fields",
    ),
    (
        "where the label stands in the order's place, its other fields do too",
        {
            "AB.all.volume": ABSENT,
            "AB.label.amount": "5 mg",
            "AB.label.concentration": "2 mg/mL",
            "AB.device.amount": "2 mg",
            "AB.device.concentration": "5 mg/mL",
            "AB.order.amount": ABSENT,
            "AB.order.concentration": None,
        },
        "concentration",
        "swapped-fields",
    ),
]


@pytest.mark.parametrize(
    ("changes", "field", "slip"), [row[1:] for row in SWAPPED], ids=[row[0] for row in SWAPPED]
)
def test_swapped_fields(changes: dict[str, object], field: str, slip: str | None) -> None:
    assert disagreement(changes, field).slip == slip


def test_swapped_fields_between_clinicians_are_those_of_the_same_source() -> None:
    changes: dict[str, object] = {
        "A.device.demand_dose": "2 mg",
        "A.device.lockout": "8 min",
        "B.device.demand_dose": "8 mg",
        "B.device.lockout": "2 min",
    }
    assert disagreement(changes, "demand_dose").slip == "swapped-fields"
    elsewhere: dict[str, object] = {
        "A.device.demand_dose": "2 mg",
        "B.device.demand_dose": "9 mg",
        "A.order.lockout": "9 min",
        "B.order.lockout": "2 min",
    }
    assert disagreement(elsewhere, "demand_dose").slip is None


ORDERED_TWO_AND_EIGHT: dict[str, object] = {"AB.order.demand_dose": "2 mg", "AB.order.lockout": "8 min"}


def test_swapped_fields_between_clinicians_in_the_order() -> None:
    changes: dict[str, object] = {
        "A.order.demand_dose": "2 mg",
        "A.order.lockout": "8 min",
        "B.order.demand_dose": "8 mg",
        "B.order.lockout": "2 min",
    }
    assert disagreement(changes, "demand_dose").slip == "swapped-fields"


def test_swapped_fields_between_the_record_and_the_order() -> None:
    changes: dict[str, object] = {
        **ORDERED_TWO_AND_EIGHT,
        "order_of_record.demand_dose": "8 mg",
        "order_of_record.lockout": "2 min",
    }
    finding = disagreement(changes, "demand_dose")
    assert (finding.code, finding.slip) == ("order-differs-from-record", "swapped-fields")


@pytest.mark.parametrize(
    ("by_first", "by_second", "slip"),
    [
        # The first nurse's reading of the dose counts, so it is the first nurse's lockout that stands beside.
        (ABSENT, "2 min", None),
        ("2 min", ABSENT, "swapped-fields"),
        ("2 min", "3 min", "swapped-fields"),
        ("3 min", "2 min", None),
    ],
)
def test_whose_reading_stands_beside(by_first: object, by_second: object, slip: str | None) -> None:
    changes = {
        **ORDERED_TWO_AND_EIGHT,
        "AB.device.demand_dose": "8 mg",
        "A.device.lockout": by_first,
        "B.device.lockout": by_second,
    }
    assert disagreement(changes, "demand_dose").slip == slip


STALE: list[tuple[str, dict[str, object], str, str | None]] = [
    (
        "the device",
        {"AB.device.demand_dose": "10 mg", "previous.demand_dose": "10000 mcg"},
        "demand_dose",
        "stale-value",
    ),
    ("the order", {"AB.device.demand_dose": "3 mg", "previous.demand_dose": "1 mg"}, "demand_dose", None),
    (
        "a limit that was none before",
        {
            "AB.order.limit": {"amount": "60 mg", "window": "4 h"},
            "previous.limit": None,
        },
        "limit.amount",
        "stale-value",
    ),
    (
        "a loading dose that was none before",
        {"AB.order.loading_dose": "3 mg", "previous.loading_dose": None},
        "loading_dose",
        "stale-value",
    ),
    (
        "a mode",
        {
            "AB.settings.mode": "demand",
            "AB.device.mode": "demand-and-continuous",
            "previous.mode": "demand-and-continuous",
        },
        "mode",
        "stale-value",
    ),
    (
        "a rate that was not mentioned before",
        {**BOTH, "AB.device.continuous_rate": "0 mg/h", "previous.drug": "morphine"},
        "continuous_rate",
        None,
    ),
    (
        "a rate that was none before",
        {**BOTH, "AB.device.continuous_rate": "0 mg/h", "previous.continuous_rate": None},
        "continuous_rate",
        "stale-value",
    ),
    (
        "a concentration",
        {"AB.device.amount": "250 mg", "previous.concentration": "5 mg/mL"},
        "concentration",
        "stale-value",
    ),
    (
        "the record",
        {"order_of_record.demand_dose": "10 mg", "previous.demand_dose": "1 mg"},
        "demand_dose",
        "stale-value",
    ),
    ("A alone", {"A.device.lockout": "12 min", "previous.lockout": "12 min"}, "lockout", "stale-value"),
    ("B alone", {"B.order.lockout": "12 min", "previous.lockout": "720 s"}, "lockout", "stale-value"),
    ("neither", {"B.order.lockout": "17 min", "previous.lockout": "12 min"}, "lockout", None),
]


@pytest.mark.parametrize(
    ("changes", "field", "slip"), [row[1:] for row in STALE], ids=[row[0] for row in STALE]
)
def test_stale_value(changes: dict[str, object], field: str, slip: str | None) -> None:
    assert disagreement(changes, field).slip == slip


def strength(concentration: str) -> dict[str, object]:
    return {"AB.all.amount": ABSENT, "AB.all.volume": ABSENT, "AB.all.concentration": concentration}


VOLUME_FOR_AMOUNT: list[tuple[str, dict[str, object], str, str | None]] = [
    (
        "1 mL typed for 5 mg",
        {**strength("5 mg/mL"), **set_otherwise("demand_dose", "5 mg", "1 mg")},
        "demand_dose",
        "amount-for-volume",
    ),
    (
        "and the other way round",
        {**strength("5 mg/mL"), **set_otherwise("demand_dose", "1 mg", "5 mg")},
        "demand_dose",
        "amount-for-volume",
    ),
    (
        "a rate",
        {**strength("4 mg/mL"), **BOTH, **set_otherwise("continuous_rate", "2 mg/h", "0.5 mg/h")},
        "continuous_rate",
        "amount-for-volume",
    ),
    (
        "a loading dose in mcg",
        {**strength("400 mcg/mL"), **set_otherwise("loading_dose", "2 mg", "5000 mcg")},
        "loading_dose",
        "amount-for-volume",
    ),
    (
        "a limit",
        {**strength("4 mg/mL"), **set_otherwise("limit.amount", "60 mg", "15 mg")},
        "limit.amount",
        "amount-for-volume",
    ),
    ("no lockout", {**strength("4 mg/mL"), **set_otherwise("lockout", "36 min", "9 min")}, "lockout", None),
    (
        "the concentration of the order, not of the device",
        {
            **strength("4 mg/mL"),
            "AB.device.concentration": "7 mg/mL",
            **set_otherwise("demand_dose", "21 mg", "3 mg"),
        },
        "demand_dose",
        None,
    ),
    (
        "not where the order states none",
        {
            **strength("5 mg/mL"),
            "AB.order.concentration": None,
            **set_otherwise("demand_dose", "5 mg", "1 mg"),
        },
        "demand_dose",
        None,
    ),
    (
        "the record's own concentration",
        {
            **strength("5 mg/mL"),
            "order_of_record.demand_dose": "5 mg",
            "order_of_record.concentration": "5 mg/mL",
        },
        "demand_dose",
        "amount-for-volume",
    ),
    (
        "not where the record gives none",
        {**strength("5 mg/mL"), "order_of_record.demand_dose": "5 mg"},
        "demand_dose",
        None,
    ),
    (
        "between clinicians the concentration of A's source",
        {**strength("5 mg/mL"), "A.device.demand_dose": "5 mg", "B.device.demand_dose": "1 mg"},
        "demand_dose",
        "amount-for-volume",
    ),
]


@pytest.mark.parametrize(
    ("changes", "field", "slip"),
    [row[1:] for row in VOLUME_FOR_AMOUNT],
    ids=[row[0] for row in VOLUME_FOR_AMOUNT],
)
def test_amount_for_volume(changes: dict[str, object], field: str, slip: str | None) -> None:
    assert disagreement(changes, field).slip == slip


WEIGHT: list[tuple[str, str, str | None, str | None]] = [
    ("0.1 mg", "8.2 mg", "82 kg", "weight-slip"),
    ("8.2 mg", "0.1 mg", "82 kg", "weight-slip"),
    ("0.1 mg", "8.2 mg", "81 kg", None),
    ("0.1 mg", "8.2 mg", None, None),
    # A weight of 60 or 100 kg: the slip that is tried first.
    ("0.1 mg", "6 mg", "60 kg", "minutes-for-hours"),
    ("0.1 mg", "10 mg", "100 kg", "decimal-shift"),
]


@pytest.mark.parametrize(("ordered", "device", "weight", "slip"), WEIGHT)
def test_weight_slip(ordered: str, device: str, weight: str | None, slip: str | None) -> None:
    changes = {"AB.chart.weight": weight, **set_otherwise("demand_dose", ordered, device)}
    assert disagreement(changes, "demand_dose").slip == slip
