"""Figures that were published, or that the trade computes by hand, computed again by the engine.

The source stands beside each check. Where it says "inputs", the source prints the inputs, and the rest is
arithmetic on them. "Common practice, no source" is just that.
"""

from fractions import Fraction

import pytest

from app.comparison import Finding, Result, Severity
from app.dosing import Delivery, DoseMath
from app.quantities import Quantity
from tests.comparison.builders import ABSENT, result_of

BOTH = "demand-and-continuous"


def device(result: Result) -> DoseMath:
    return result.figures[0].device


def delivery(result: Result) -> Delivery:
    return result.figures[0].delivery


def mg(quantity: Quantity | None) -> Fraction:
    assert quantity is not None
    return quantity.value


def finding(result: Result, code: str, field: str) -> Finding:
    [found] = [each for each in result.findings if (each.code, each.field) == (code, field)]
    return found


def stated(order_and_device: str, label: str) -> dict[str, object]:
    return {
        "AB.all.amount": ABSENT,
        "AB.all.volume": ABSENT,
        "AB.all.concentration": order_and_device,
        "AB.label.concentration": label,
    }


def test_the_published_fatal_case() -> None:
    """2 mg, 6 min, 30 mg in 4 h ordered; 5 mg/mL in the syringe, 1 mg/mL programmed.

    Hicks RW, Death by PCA, AHRQ WebM&M case commentary, February 2013: order, concentrations, and that a
    display of 20 mg stood for 100 mg. The rest is arithmetic on these.
    """
    result = result_of(
        {
            **stated("5 mg/mL", "5 mg/mL"),
            "AB.device.concentration": "1 mg/mL",
            "AB.settings.demand_dose": "2 mg",
            "AB.settings.lockout": "6 min",
            "AB.settings.limit": {"amount": "30 mg", "window": "4 h"},
        }
    )
    found = finding(result, "device-differs", "concentration")
    assert (found.severity, found.factor) == (Severity.STOP, Fraction(5))
    assert found.says == (
        "Order and device do not agree on the concentration: 5 mg/mL is ordered, 1 mg/mL is set. "
        "Each dose given would be 5 times the dose that the device shows."
    )
    assert mg(device(result).demand_volume) == 2
    assert mg(delivery(result).actual_demand) == 10
    assert delivery(result).factor == 5
    # A display of 20 mg, which is the first hour at full use, stands for 100 mg.
    assert mg(device(result).first_hour_with_loading) == 20
    assert mg(delivery(result).actual_first_hour) == 100
    by_lockout = device(result).by_lockout
    assert by_lockout is not None
    assert (mg(by_lockout.hour), mg(by_lockout.four_hours)) == (Fraction(20), Fraction(80))
    assert device(result).demands_per_hour == 10
    # The limit is met by 15 demands, the last of them 84 min after the first; 6 min later it refuses one.
    assert device(result).demands_before_limit == 15
    assert mg(device(result).limit_first_refuses_at) == 84 + 6
    full_use, strength = device(result).full_use, delivery(result).strength
    assert full_use is not None
    assert strength is not None
    assert mg(full_use.four_hours) * strength == 150


def test_a_low_default_concentration_accepted() -> None:
    """0.1 mg/mL set, 2 mg/mL loaded. Letter on PCA, CMAJ 2001;164(5):620: the pair of values."""
    result = result_of({**stated("2 mg/mL", "2 mg/mL"), "AB.device.concentration": "0.1 mg/mL"})
    assert mg(device(result).demand_volume) == 10
    assert mg(delivery(result).actual_demand) == 20
    assert delivery(result).strength == 20


@pytest.mark.parametrize(
    ("volume", "dose"),
    [
        # Ulrey TM, Whitley M, Anesth Analg, April 1995 (letter): 26 mL of 5 mg/mL ran in; so 130 mg.
        ("26 mL", Fraction(130)),
        # A&A Case Rep 2016;8:178-81: a syringe exchanged unclamped 0.8 mL, clamped 0.07 mL; at 5 mg/mL.
        ("0.8 mL", Fraction(4)),
        ("0.07 mL", Fraction(35, 100)),
        # Snijder RA et al., Biomed Tech 2015: compliance 9.0e-9 to 2.1e-8 L/Pa; at 100 kPa 0.9 and 2.1 mL.
        ("0.9 mL", Fraction(45, 10)),
        ("2.1 mL", Fraction(105, 10)),
        # 200 cm of line (BMJ 1994;309:1002), 1.0 mm bore: 1.570796 mL by geometry.
        ("1.570796 mL", Fraction(785398, 100000)),
    ],
)
def test_drug_pushed_out_of_a_volume(volume: str, dose: Fraction) -> None:
    result = result_of({**stated("5 mg/mL", "5 mg/mL"), "policy.dead_volume": volume})
    assert mg(device(result).junction_bolus) == dose


def test_the_girl_whose_syringe_siphoned() -> None:
    """100 mg in 50 mL, 1 mg every 5 min. Southern DA, Read MS, BMJ 1994;309:1002: the settings."""
    result = result_of({"AB.all.amount": "100 mg", "AB.settings.lockout": "5 min"})
    assert mg(device(result).concentration) == 2
    assert mg(device(result).demand_volume) == Fraction(1, 2)
    by_lockout = device(result).by_lockout
    assert by_lockout is not None
    assert mg(by_lockout.hour) == 12


@pytest.mark.parametrize(
    ("dose", "rate", "hour", "four_hours"),
    [
        # Sinatra RS et al., PCA with sufentanil, two methods: the settings of its two intravenous arms.
        ("4 mcg", "8 mcg/h", Fraction(48, 1000), Fraction(192, 1000)),
        ("1 mg", "0.5 mg/h", Fraction(105, 10), Fraction(42)),
    ],
)
def test_the_most_that_two_trial_arms_could_give(
    dose: str, rate: str, hour: Fraction, four_hours: Fraction
) -> None:
    result = result_of(
        {
            "AB.settings.mode": BOTH,
            "AB.settings.demand_dose": dose,
            "AB.settings.continuous_rate": rate,
            "AB.settings.lockout": "6 min",
        }
    )
    by_lockout = device(result).by_lockout
    assert by_lockout is not None
    assert (mg(by_lockout.hour), mg(by_lockout.four_hours)) == (hour, four_hours)


@pytest.mark.parametrize(
    ("amount", "shown"),
    [
        # Int J Med Sci 2019;16:1439-46: 1250 mcg and 250 mcg, each in 60 mL.
        ("1250 mcg", "20.8 mcg/mL"),
        ("250 mcg", "4.17 mcg/mL"),
    ],
)
def test_concentrations_of_a_trial(amount: str, shown: str) -> None:
    concentration = device(result_of({"AB.all.amount": amount, "AB.all.volume": "60 mL"})).concentration
    assert concentration is not None
    assert concentration.as_json()["shown"] == shown
    assert concentration.value == Fraction(int(amount.removesuffix(" mcg")), 60_000)


def test_a_lockout_of_one_minute_under_an_hourly_limit() -> None:
    """6 mcg, 1 min, 1.15 mcg/h, 40 mcg in 1 h. Lehmann KA, Acta Anaesthesiol Scand 1991;35:221-6: inputs."""
    result = result_of(
        {
            "AB.settings.mode": BOTH,
            "AB.settings.demand_dose": "6 mcg",
            "AB.settings.lockout": "1 min",
            "AB.settings.continuous_rate": "1.15 mcg/h",
            "AB.settings.limit": {"amount": "40 mcg", "window": "1 h"},
        }
    )
    figures = device(result)
    assert figures.by_lockout is not None
    assert figures.full_use is not None
    assert mg(figures.by_lockout.hour) == Fraction(36115, 100_000)
    # Whole demands only: one more would pass 40 mcg.
    assert mg(figures.full_use.hour) == Fraction(6 * 6, 1000) + Fraction(115, 100_000)
    assert mg(figures.full_use.hour) <= Fraction(40, 1000) < mg(figures.full_use.hour) + Fraction(6, 1000)


def test_a_lockout_of_seven_minutes_gives_nine_demands_in_the_first_hour() -> None:
    """At 0, 7 ... 56 min; the handbooks' floor(60 / 7) is 8, and forgets the demand at the start."""
    figures = device(result_of({"AB.settings.lockout": "7 min"}))
    assert figures.demands_per_hour == 9
    assert figures.by_lockout is not None
    assert mg(figures.by_lockout.hour) == 9


def test_a_dilution_by_hand() -> None:
    """0.4 mg in 10 mL, 0.5 mL at a time: 0.04 mg/mL, 0.02 mg. Printed with the sedation scale of Pasero."""
    result = result_of(
        {"AB.all.amount": "0.4 mg", "AB.all.volume": "10 mL", "AB.settings.demand_dose": "0.02 mg"}
    )
    assert mg(device(result).concentration) == Fraction(4, 100)
    assert mg(device(result).demand_volume) == Fraction(1, 2)


def test_the_way_from_the_junction_to_the_patient() -> None:
    """Drug at 3 mL/h into a carrier at 10 mL/h, 1.0 mL between them and the patient: 1/13 h by plug flow.

    Lovich MA et al., Anesth Analg 2013;117:1313-8: the flows.
    """
    result = result_of(
        {
            **stated("5 mg/mL", "5 mg/mL"),
            "AB.settings.mode": BOTH,
            "AB.settings.continuous_rate": "15 mg/h",
            "AB.settings.carrier": {"rate": "10 mL/h"},
            "policy.dead_volume": "1 mL",
        }
    )
    delay = device(result).carrier_delay
    assert mg(delay) == Fraction(60, 13)
    assert delay is not None
    assert delay.as_json()["shown"] == "4.62 min"


def test_micrograms_typed_as_milligrams() -> None:
    """20 mcg typed with mg: 1,000 times, the best known of the unit slips. Arithmetic."""
    result = result_of(
        {
            "AB.all.drug": "fentanyl",
            **stated("10 mcg/mL", "10 mcg/mL"),
            "AB.order.demand_dose": "20 mcg",
            "AB.device.demand_dose": "20 mg",
        }
    )
    found = finding(result, "device-differs", "demand_dose")
    assert (found.factor, found.slip) == (Fraction(1000), "unit-slip")


def test_millilitres_typed_for_milligrams() -> None:
    """0.2 mg typed as 0.2 mL at 0.2 mg/mL gives 0.04 mg, 2 mg as 2 mL at 5 mg/mL 10 mg. Arithmetic."""
    for concentration, ordered, given, factor in (
        ("0.2 mg/mL", "0.2 mg", "0.04 mg", Fraction(1, 5)),
        ("5 mg/mL", "2 mg", "10 mg", Fraction(5)),
    ):
        result = result_of(
            {
                **stated(concentration, concentration),
                "AB.order.demand_dose": ordered,
                "AB.device.demand_dose": given,
            }
        )
        found = finding(result, "device-differs", "demand_dose")
        assert (found.factor, found.slip) == (factor, "amount-for-volume")


def test_a_lockout_of_ten_minutes_typed_as_one() -> None:
    """60 demands an hour, not 6; the 15th of 2 mg reaches 30 mg after 14 min, not 140. Arithmetic."""
    ordered_and_set = {
        "AB.settings.demand_dose": "2 mg",
        "AB.settings.limit": {"amount": "30 mg", "window": "4 h"},
        "AB.device.lockout": "1 min",
    }
    result = result_of(ordered_and_set)
    order = result.figures[0].order
    assert (order.demands_per_hour, device(result).demands_per_hour) == (6, 60)
    assert (order.demands_before_limit, device(result).demands_before_limit) == (15, 15)
    assert mg(order.limit_first_refuses_at) - 10 == 140
    assert mg(device(result).limit_first_refuses_at) - 1 == 14
    assert finding(result, "device-differs", "lockout").slip == "decimal-shift"


def test_a_limit_of_30_typed_as_300() -> None:
    """2 mg every 6 min: 80 mg in 4 h are allowed where 30 mg were ordered. Arithmetic."""
    result = result_of(
        {
            "AB.settings.demand_dose": "2 mg",
            "AB.settings.lockout": "6 min",
            "AB.order.limit": {"amount": "30 mg", "window": "4 h"},
            "AB.device.limit": {"amount": "300 mg", "window": "4 h"},
        }
    )
    order, as_set = result.figures[0].order.full_use, device(result).full_use
    assert order is not None
    assert as_set is not None
    assert (mg(order.four_hours), mg(as_set.four_hours)) == (Fraction(30), Fraction(80))


def test_a_hydromorphone_syringe() -> None:
    """Common practice, no source.

    6 mg in 30 mL is 0.2 mg/mL, and a demand of 0.2 mg is 1 mL; every 10 min that is 6 an hour; a limit of
    2 mg is met after 10; priming with 2.3 mL costs 0.46 mg.
    """
    result = result_of(
        {
            "AB.all.drug": "HYDROmorphone",
            "AB.all.amount": "6 mg",
            "AB.all.volume": "30 mL",
            "AB.settings.demand_dose": "0.2 mg",
            "AB.settings.lockout": "10 min",
            "AB.settings.limit": {"amount": "2 mg", "window": "4 h"},
            "policy.prime_volume": "2.3 mL",
        }
    )
    figures = device(result)
    assert mg(figures.concentration) == Fraction(1, 5)
    assert mg(figures.demand_volume) == 1
    assert figures.demands_per_hour == 6
    assert figures.demands_before_limit == 10
    assert mg(figures.limit_first_refuses_at) == 100
    assert mg(figures.primed_amount) == Fraction(46, 100)


def test_the_same_numbers_of_two_drugs_look_alike() -> None:
    """Common practice, no source: morphine and HYDROmorphone both come as 1 mg/mL, so the name decides."""
    result = result_of({"AB.label.drug": "HYDROmorphone"})
    assert finding(result, "label-differs", "drug").severity is Severity.STOP
    assert delivery(result) == Delivery()
