"""The table of slips: for each the pairs that it fits, the ones that it just does not, what comes first."""

from collections.abc import Mapping
from fractions import Fraction

import pytest

from app.comparison import Finding
from app.comparison.wording import SLIPS
from tests.comparison.builders import ABSENT, result_of

BOTH = {"AB.settings.mode": "demand-and-continuous", "AB.settings.continuous_rate": "0.5 mg/h"}


def set_otherwise(field: str, ordered: str, device: str) -> dict[str, object]:
    """Everybody reads one value in the order and another on the device."""
    path = "limit" if field.startswith("limit.") else field
    if path == "limit":
        name = field.removeprefix("limit.")
        limit = {"amount": "60 mg", "window": "4 h"}
        return {
            "AB.order.limit": {**limit, name: ordered},
            "AB.device.limit": {**limit, name: device},
        }
    return {f"AB.order.{path}": ordered, f"AB.device.{path}": device}


def disagreement(changes: Mapping[str, object], field: str) -> Finding:
    """The finding about a field among the first five codes."""
    [finding] = [
        each for each in result_of(changes).findings if each.field == field and each.origin is not None
    ]
    return finding


# In what is ordered and set, the factor being q divided by p.
DEVICE = [
    # unit-slip: the same number in other units, or a thousand times
    ("demand_dose", "1 mg", "1 mcg", "unit-slip", "1/1000"),
    ("demand_dose", "1 mcg", "1 g", "unit-slip", "1000000"),
    ("demand_dose", "20 mcg", "20 mg", "unit-slip", "1000"),
    ("demand_dose", "2 mg", "2000 mg", "unit-slip", "1000"),
    ("demand_dose", "2000 mcg", "2 mcg", "unit-slip", "1/1000"),
    ("lockout", "10 min", "10 h", "unit-slip", "60"),
    ("limit.window", "4 h", "240 min", None, None),
    # decimal-shift
    ("demand_dose", "0.2 mg", "2 mg", "decimal-shift", "10"),
    ("demand_dose", "2 mg", "0.2 mg", "decimal-shift", "1/10"),
    ("demand_dose", "0.2 mg", "20 mg", "decimal-shift", "100"),
    ("demand_dose", "20 mcg", "2 mg", "decimal-shift", "100"),
    ("demand_dose", "0.1 mg", "1000 mg", "decimal-shift", "10000"),
    ("lockout", "10 min", "100 min", "decimal-shift", "10"),
    # minutes-for-hours
    ("lockout", "5 min", "300 min", "minutes-for-hours", "60"),
    ("lockout", "300 min", "5 min", "minutes-for-hours", "1/60"),
    ("continuous_rate", "1 mg/h", "60 mg/h", "minutes-for-hours", "60"),
    # digits-swapped
    ("demand_dose", "12 mg", "21 mg", "digits-swapped", "7/4"),
    ("demand_dose", "1.2 mg", "2.1 mg", "digits-swapped", "7/4"),
    ("demand_dose", "1.23 mg", "1.32 mg", "digits-swapped", "44/41"),
    ("demand_dose", "123 mg", "321 mg", None, "107/41"),
    ("demand_dose", "1.2 mg", "0.21 mg", None, "7/40"),
    ("demand_dose", "1234 mg", "2143 mg", None, "2143/1234"),
    ("demand_dose", "12 mg", "21000 mcg", None, "7/4"),
    # digit-doubled
    ("demand_dose", "12 mg", "112 mg", "digit-doubled", "28/3"),
    ("demand_dose", "12 mg", "122 mg", "digit-doubled", "61/6"),
    ("demand_dose", "112 mg", "12 mg", "digit-doubled", "3/28"),
    ("demand_dose", "1.5 mg", "1.15 mg", "digit-doubled", "23/30"),
    ("demand_dose", "1.5 mg", "15.5 mg", "digit-doubled", "31/3"),
    ("demand_dose", "1.5 mg", "11.5 mg", "digit-doubled", "23/3"),
    ("demand_dose", "2 mg", "22 mg", "digit-doubled", "11"),
    # digit-dropped
    ("demand_dose", "12 mg", "132 mg", "digit-dropped", "11"),
    ("demand_dose", "18 mg", "8 mg", "digit-dropped", "4/9"),
    ("demand_dose", "1.25 mg", "1.2 mg", "digit-dropped", "24/25"),
    ("demand_dose", "1.25 mg", "1.5 mg", "digit-dropped", "6/5"),
    ("demand_dose", "12 mg", "1.32 mg", None, "11/100"),
    ("demand_dose", "12 mg", "345 mg", None, "115/4"),
    ("demand_dose", "1 mg", "123 mg", None, "123"),
    ("demand_dose", "12 mg", "132000 mcg", None, "11"),
    # neighbour-key
    ("demand_dose", "12 mg", "15 mg", "neighbour-key", "5/4"),
    ("demand_dose", "0.4 mg", "0.7 mg", "neighbour-key", "7/4"),
    ("demand_dose", "1.4 mg", "1.8 mg", None, "9/7"),
    ("demand_dose", "1.4 mg", "2.5 mg", None, "25/14"),
    ("demand_dose", "14 mg", "1.7 mg", None, "17/140"),
    ("demand_dose", "4 mg", "7000 mcg", None, "7/4"),
    ("demand_dose", "1.25 mg", "12.4 mg", None, "248/25"),
    ("demand_dose", "1.25 mg", "21.5 mg", None, "86/5"),
    # none of them
    ("demand_dose", "1 mg", "7 mg", None, "7"),
    ("monitor.low_spo2", "92 %", "95 %", "neighbour-key", "95/92"),
]


@pytest.mark.parametrize("row", DEVICE)
def test_slip_between_order_and_device(row: tuple[str, str, str, str | None, str | None]) -> None:
    field, ordered, device, slip, factor = row
    changes = {**(BOTH if field == "continuous_rate" else {}), **set_otherwise(field, ordered, device)}
    if factor is None:
        assert [each for each in result_of(changes).findings if each.field == field and each.origin] == []
        return
    finding = disagreement(changes, field)
    assert (finding.code, finding.slip, finding.factor) == ("device-differs", slip, Fraction(factor))
    sentence = f"Consistent with {SLIPS[slip]}." if slip else "."
    assert finding.says.endswith(sentence)
    assert finding.says.count("Consistent") == (1 if slip else 0)


TOUCHING = {"78", "89", "45", "56", "12", "23", "47", "58", "69", "14", "25", "36", "02"}


@pytest.mark.parametrize("one", "0123456789")
@pytest.mark.parametrize("other", "0123456789")
def test_keys_that_touch(one: str, other: str) -> None:
    if one == other:
        return
    finding = disagreement(set_otherwise("demand_dose", f"3{one}7 mg", f"3{other}7 mg"), "demand_dose")
    is_touching = bool(TOUCHING & {one + other, other + one})
    assert finding.slip == ("neighbour-key" if is_touching else None)


def test_drug_swap_comes_before_all_others() -> None:
    changes = {"AB.device.drug": "fentanyl", "previous.drug": "fentanyl"}
    assert disagreement(changes, "drug").slip == "drug-swap"


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
            "AB.label.amount": "30 mg",
            "AB.label.volume": "60 mL",
            "AB.device.amount": "60 mg",
            "AB.device.volume": "120 mL",
            "AB.order.amount": ABSENT,
            "AB.order.volume": ABSENT,
            "AB.order.concentration": None,
            "AB.label.syringe_size": "60 mL",
            "AB.device.syringe_size": "30 mL",
        },
        "amount",
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
        "a syringe size",
        {
            "AB.label.syringe_size": "50 mL",
            "AB.device.syringe_size": "30 mL",
            "previous.syringe_size": "30 mL",
        },
        "syringe_size",
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
    changes = {"patient.weight": weight, **set_otherwise("demand_dose", ordered, device)}
    assert disagreement(changes, "demand_dose").slip == slip


def test_the_factor_between_clinicians_is_the_larger_by_the_smaller() -> None:
    for a, b in (("9 min", "6 min"), ("6 min", "9 min")):
        finding = disagreement({"A.device.lockout": a, "B.device.lockout": b}, "lockout")
        assert finding.factor == Fraction(3, 2)
        assert "One is 1.5 times the other." in finding.says


def test_the_factor_of_a_label_that_differs() -> None:
    changes: dict[str, object] = {"AB.label.amount": "25 mg", "AB.label.volume": "25 mL"}
    assert disagreement(changes, "amount").factor == Fraction(1, 2)


def test_the_factor_of_a_concentration_is_the_strength_as_a_read_it() -> None:
    changes: dict[str, object] = {"AB.device.amount": "100 mg", "AB.label.amount": "250 mg"}
    finding = disagreement(changes, "concentration")
    assert (finding.code, finding.factor) == ("label-differs", Fraction(5, 2))
    assert disagreement({**changes, "AB.label.drug": "fentanyl"}, "concentration").factor is None


def test_the_factor_of_a_concentration_in_the_record_or_between_clinicians_is_no_strength() -> None:
    finding = disagreement({"order_of_record.concentration": "2 mg/mL"}, "concentration")
    assert (finding.factor, finding.slip) == (Fraction(1, 2), None)
    finding = disagreement({"B.label.amount": "250 mg"}, "concentration")
    assert (finding.factor, finding.slip) == (Fraction(5), None)


def test_no_number_has_no_factor() -> None:
    for changes, field in (
        ({"AB.device.drug": "fentanyl"}, "drug"),
        ({"AB.device.limit": {"amount": "60 mg", "window": "4 h"}}, "limit.amount"),
        ({**BOTH, "AB.device.continuous_rate": "0 mg/h"}, "continuous_rate"),
        ({"A.label.use_by": "2031-06-01T00:00Z", "B.label.use_by": "2031-06-02T00:00Z"}, "use_by"),
    ):
        assert disagreement(dict(changes), field).factor is None


def test_a_time_is_no_number() -> None:
    changes: dict[str, object] = {
        "A.label.use_by": "2031-06-01T00:00Z",
        "B.label.use_by": "2031-06-02T00:00Z",
    }
    finding = disagreement(changes, "use_by")
    assert (finding.code, finding.slip) == ("readings-differ", None)
    assert finding.readings == {"A.label": "2031-06-01T00:00Z", "B.label": "2031-06-02T00:00Z"}
