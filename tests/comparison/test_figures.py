"""What the figures of order and device are made from: whose readings, and whose volume."""

from fractions import Fraction

import pytest

from app.comparison.fields import LIMITS
from app.comparison.figures import used_settings
from app.comparison.readings import NO_READINGS, NONE, Amount, Readings
from app.dosing import Limit
from tests.comparison.builders import ABSENT, result_of
from tests.comparison.disagreements import disagreement

ORDERED_BY_STRENGTH: dict[str, object] = {
    "AB.settings.amount": ABSENT,
    "AB.settings.volume": ABSENT,
    "AB.settings.concentration": "1 mg/mL",
    "AB.settings.limit": {"amount": "30 mg", "window": "4 h"},
    "AB.label.amount": "23 mg",
    "AB.label.volume": "23 mL",
}


@pytest.mark.parametrize(
    ("source", "volume", "minutes"),
    [
        # 1 mg every 10 min from 0 on: the demand at 230 min is the first that 23 mg do not hold.
        ("order", ABSENT, 230),
        ("device", ABSENT, 230),
        # A volume of its own goes before the label's: 12 mg hold the demands until 110 min.
        ("order", "12 mL", 120),
        ("device", "12 mL", 120),
    ],
)
def test_the_labels_volume_serves_where_a_source_gives_none(
    source: str, volume: object, minutes: int
) -> None:
    first, _ = result_of({**ORDERED_BY_STRENGTH, f"A.{source}.volume": volume}).figures
    lasts = {"order": first.order, "device": first.device}[source].syringe_lasts_full_use
    assert lasts is not None
    assert lasts.value == minutes


def test_how_many_times_the_dose_is_given_is_as_the_first_nurse_read_it() -> None:
    """The syringe is twice as strong as ordered and set; B, who read no drug in the order, cannot say so."""
    changes: dict[str, object] = {"AB.label.amount": "100 mg", "B.order.drug": ABSENT}
    assert disagreement(changes, "concentration").factor == Fraction(2)
    by_second: dict[str, object] = {"AB.label.amount": "100 mg", "A.order.drug": ABSENT}
    assert disagreement(by_second, "concentration").factor is None


LIMIT_AMOUNT = Amount(typed="30 mg", value=Fraction(30))
LIMIT_WINDOW = Amount(typed="4 h", value=Fraction(240))


def test_a_limit_is_read_though_nothing_else_is() -> None:
    no_others = dict.fromkeys([field for fields in LIMITS[1:] for field in fields], NONE)
    source = Readings(by_field={"limit.amount": LIMIT_AMOUNT, "limit.window": LIMIT_WINDOW, **no_others})
    settings = used_settings(source, NO_READINGS)
    assert settings.limits == (Limit(amount=Fraction(30), window=Fraction(240)),)
    assert settings.limits_read
    assert not settings.mode_known


@pytest.mark.parametrize("half", [{"limit.amount": LIMIT_AMOUNT}, {"limit.window": LIMIT_WINDOW}])
def test_half_a_limit_is_none_and_is_not_read(half: dict[str, Amount]) -> None:
    settings = used_settings(Readings(by_field=half), NO_READINGS)
    assert settings.limits == ()
    assert not settings.limits_read
