"""Whether the order lets staff give a bolus now; the example is worked by hand."""

from datetime import datetime, timedelta

import pytest

from app.judging.boluses import BolusOrder, TooMuch, TooSoon, bolus_order, peak_of, refuse_by_order

NOON = datetime.fromisoformat("2031-05-02T12:00:00+00:00")
# Four of them in 4 h, each at least 10 min after the one before.
ORDER = BolusOrder(dose="2 mg", interval="10 min", most="8 mg", window="4 h")


def given(*minutes: int, dose: str = "2 mg") -> list[tuple[datetime, str]]:
    return [(NOON + timedelta(minutes=each), dose) for each in minutes]


def asked(told: list[tuple[datetime, str]], minute: int, order: BolusOrder = ORDER) -> object:
    return refuse_by_order(order, told, NOON + timedelta(minutes=minute))


def soon(minute: int) -> TooSoon:
    return TooSoon(until=NOON + timedelta(minutes=minute))


def much(minute: int) -> TooMuch:
    return TooMuch(until=NOON + timedelta(minutes=minute))


@pytest.mark.parametrize(
    ("told", "minute", "refused"),
    [
        (given(), 0, None),
        (given(0), 9, soon(10)),
        (given(0), 10, None),
        (given(0, 10, 20), 30, None),
        # 8 mg were given, and the first of them leaves the window at 240 min.
        (given(0, 10, 20, 30), 40, much(240)),
        (given(0, 10, 20, 30), 239, much(240)),
        (given(0, 10, 20, 30), 240, None),
        # Of a larger one before, under an earlier order: 6 + 2 mg may, 7 + 2 mg may not.
        (given(0, dose="6 mg"), 60, None),
        (given(0, dose="7000 mcg"), 60, much(240)),
        # By another order before, of doses as small as that.
        (given(0, dose="0 mg"), 10, None),
        # By a clock that was put back it counts as given now.
        (given(30), 0, soon(10)),
    ],
)
def test_by_interval_and_window(told: list[tuple[datetime, str]], minute: int, refused: object) -> None:
    assert asked(told, minute) == refused


def test_it_waits_until_as_many_have_left_the_window_as_must() -> None:
    order = BolusOrder(dose="4 mg", interval="10 min", most="8 mg", window="4 h")
    assert asked(given(0, 10, 20, 30), 60, order) == much(250)


def test_one_that_is_more_than_the_most_is_never_given() -> None:
    order = BolusOrder(dose="9 mg", interval="10 min", most="8 mg", window="4 h")
    assert asked([], 0, order) == much(240)
    assert asked(given(0), 60, order) == much(300)


def test_what_an_order_says_of_it() -> None:
    whole = {"dose": "2 mg", "interval": "10 min", "most": "8 mg", "window": "4 h"}
    assert bolus_order({"staff_bolus": whole}) == ORDER
    assert bolus_order({"staff_bolus": None}) is None
    assert bolus_order({}) is None
    assert bolus_order({"staff_bolus": {"dose": "2 mg"}}) is None


def test_when_the_effect_is_greatest() -> None:
    assert peak_of("15 min") == timedelta(minutes=15)
    assert peak_of("90 s") == timedelta(seconds=90)
