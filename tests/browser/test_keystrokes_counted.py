"""The keystroke-level model by worked numbers.

Source: Card, Moran and Newell, Communications of the ACM 23(7), 1980: the worked examples of the paper (one
word replaced in two editors) and its rules for placing M.
"""

import pytest

from app.records.fields import field_of
from app.records.sources import Source
from tests.browser.floor import answered, reading_floor, safety_floor
from tests.browser.keystrokes import Counts, Event, count, screen_of, strokes

# Figures 2 and 3: by the pointer 2 M, 8 K, 2 H and 1 P, 6.2 s; by keys alone 4 M and 15 K, 8.4 s.
BY_POINTER = Counts(m=2, k=8, h=2, p=1)
BY_KEYS = Counts(m=4, k=15)


def test_the_published_examples_take_as_long_as_published() -> None:
    assert BY_POINTER.milliseconds == 6200
    assert BY_KEYS.milliseconds == 8400
    assert (BY_POINTER + BY_KEYS).milliseconds == 14600
    # The button of the pointer, down and up.
    assert Counts(p=1, b=2).milliseconds == 1300


@pytest.mark.parametrize(
    ("text", "keys"),
    [("", 0), ("0.2", 3), ("DM-7", 5), ("INVENTED-24", 12), ("Ab Cd", 7), ("nine quiet", 10)],
)
def test_shift_is_a_key_once_for_each_run_of_capitals(text: str, keys: int) -> None:
    assert strokes(text) == keys


def typed(screen: str, at: str, text: str) -> list[Event]:
    """A text typed into a field."""
    return [Event(screen=screen, key=sign, at=at) for sign in text]


def test_one_thought_for_a_field_its_unit_and_the_way_to_the_next() -> None:
    dose = [
        *typed("device", "demand_dose", "0.2"),
        Event(screen="device", key="Tab", at="demand_dose"),
        Event(screen="device", key=" ", at="demand_dose"),
        Event(screen="device", key="Tab", at="demand_dose"),
    ]

    assert count(dose) == {"device": Counts(m=1, k=6)}
    assert count([*dose, *typed("device", "lockout", "10")]) == {"device": Counts(m=2, k=8)}
    # Whoever comes back to a field has to think of it again.
    back = [*typed("device", "lockout", "10"), *typed("device", "demand_dose", "3")]
    assert count([*dose, *back]) == {"device": Counts(m=3, k=9)}


def test_going_on_is_a_thought_of_its_own_and_the_way_to_it_none() -> None:
    last = typed("monitor", "apnea_time", "20")

    assert count([*last, Event(screen="monitor", key="Enter", at="apnea_time")])["monitor"] == Counts(
        m=2, k=3
    )
    to_the_button = [
        Event(screen="monitor", key="Tab", at="apnea_time"),
        Event(screen="monitor", key="Tab", at="Go on", is_command=True),
        Event(screen="monitor", key="Enter", at="Go on", is_command=True),
    ]
    assert count([*last, *to_the_button])["monitor"] == Counts(m=2, k=5)


def test_a_press_of_the_pointer_takes_the_hand_there_and_back() -> None:
    press = Event(screen="read", at="Hand in", is_command=True)

    assert count([press])["read"] == Counts(h=1, p=1, b=2, m=1)
    # A way within the page, and keys that only move it, are no thought of their own.
    way = [
        Event(screen="read", key="Tab"),
        Event(screen="read", key="Enter"),
        Event(screen="read", key="End"),
    ]
    assert count([*way, press, *typed("sign", "login", "me")]) == {
        "read": Counts(k=3, h=1, p=1, b=2, m=1),
        "sign": Counts(h=1, k=2, m=1),
    }


@pytest.mark.parametrize(
    ("path", "screen"),
    [
        ("/", "my checks"),
        ("/sign-in", "sign-in"),
        ("/check/0a/read/device", "read device"),
        ("/check/0a/steps", "steps"),
        ("/check/0a", "check"),
    ],
)
def test_a_screen_is_named_by_its_path_without_the_check(path: str, screen: str) -> None:
    assert screen_of(path) == screen


@pytest.mark.parametrize(
    ("source", "name", "answer", "floor"),
    [
        (Source.ORDER, "demand_dose", "0.2 mg", Counts(m=1, k=5)),
        (Source.MONITOR, "apnea_time", "20 s", Counts(m=1, k=3)),
        (Source.ORDER, "loading_dose", "none", Counts(m=1, k=2)),
        (Source.CHART, "sedatives", "none", Counts(m=1, k=2)),
        (Source.ORDER, "drug", "HYDROmorphone", Counts(m=1, k=2)),
        (Source.WRISTBAND, "birth_date", "1958-11-23", Counts(m=1, k=9)),
        (Source.LABEL, "code", "", Counts()),
    ],
)
def test_the_floor_of_one_answer(source: Source, name: str, answer: str, floor: Counts) -> None:
    assert answered(field_of(source, name), answer) == floor


def test_the_floors_of_a_set_up() -> None:
    nothing = {source.value: dict[str, str]() for source in Source}
    reading = reading_floor({**nothing, "device": {"lockout": "6 min"}}, "n.f", "a secret")
    safety = safety_floor(17, ["2.3"], starts=True)

    assert reading["sign"] == reading["sign-in"] == Counts(m=2, k=13)
    assert sum(reading.values(), Counts()) == Counts(m=5, k=29)
    # Twenty as before, and that the check is joined and the reading locked.
    assert sum(safety.values(), Counts()) == Counts(m=22, k=46)
    assert safety_floor(18, [], bed="12", starts=False)["open"] == Counts(m=1, k=3)
    assert safety_floor(18, [], starts=False)["start"] == Counts(m=1, k=2)
