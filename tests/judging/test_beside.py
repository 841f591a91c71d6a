"""What is judged beside the engine: the line set in use, and *none* against something."""

import pytest

from app.judging.beside import none_is_an_answer, not_read, not_said_before, read_alike
from app.records.followup import Follow, Found
from app.records.kinds import SET_UP
from app.records.reading import Answers
from tests.factories.answers import answers
from tests.factories.findings import a_finding

Said = tuple[Found, ...]
NACL = "sodium chloride 0.9%"


def beside(first: Answers, second: Answers, already: list[Found]) -> Said:
    found = (
        *not_read(SET_UP, first, second),
        *read_alike(first, second),
        *none_is_an_answer(first, second),
    )
    return not_said_before(found, already)


# What A and B read otherwise than in the complete set of answers -> (code, field, sources that are named).
READ: dict[str, tuple[Answers, Answers, list[tuple[str, str, set[str]]]]] = {
    "all alike": (answers(), answers(), []),
    "two line sets": (
        answers(),
        answers(device={"pack": "set-200-y"}),
        [("readings-differ", "pack", {"device"})],
    ),
    "an order number set in two ways": (
        answers(order={"order_number": "RX 20-417"}),
        answers(order={"order_number": "rx20\N{NON-BREAKING HYPHEN}417"}),
        [],
    ),
    "two order numbers": (
        answers(order={"order_number": "RX 20-417"}),
        answers(order={"order_number": "RX 20.417"}),
        [("readings-differ", "order_number", {"order"})],
    ),
    "a serial number that one read": (
        answers(device={"device_serial": "SN-0042"}),
        answers(),
        [("reading-missing", "device_serial", {"device"})],
    ),
    "a prescriber that one read": (answers(order={"prescriber": "Ada Quill"}), answers(), []),
    "no line set named by one": (
        answers(device={"pack": None}),
        answers(),
        [("reading-missing", "pack", {"device"})],
    ),
    "no line set named by either": (
        answers(device={"pack": None}),
        answers(device={"pack": None}),
        [("reading-missing", "pack", {"device"})],
    ),
    "a carrier on the device for one, none for the other": (
        answers(),
        answers(device={"carrier_fluid": "none", "carrier_rate": None}),
        [("readings-differ", "carrier.fluid", {"device"})],
    ),
    "a carrier in the order for one, none for the other": (
        answers(order={"carrier_fluid": "none", "carrier_rate": None}),
        answers(),
        [("readings-differ", "carrier.fluid", {"order"})],
    ),
    "none ordered, one running": (
        answers(order={"carrier_fluid": "none", "carrier_rate": None}),
        answers(order={"carrier_fluid": "none", "carrier_rate": None}),
        [("device-differs", "carrier.fluid", {"order", "device"})],
    ),
    "one ordered, none running": (
        answers(device={"carrier_fluid": "none", "carrier_rate": None}),
        answers(device={"carrier_fluid": "none", "carrier_rate": None}),
        [("device-differs", "carrier.fluid", {"order", "device"})],
    ),
    "none for both on the device, and the order read by one alone": (
        answers(order={"carrier_fluid": None}, device={"carrier_fluid": "none", "carrier_rate": None}),
        answers(device={"carrier_fluid": "none", "carrier_rate": None}),
        [("reading-missing", "carrier.fluid", {"order"})],
    ),
    "an order number that the second alone has read": (
        answers(),
        answers(order={"order_number": "RX 20"}),
        [("reading-missing", "order_number", {"order"})],
    ),
    "an order number that the first alone has read": (
        answers(order={"order_number": "RX 20"}),
        answers(),
        [("reading-missing", "order_number", {"order"})],
    ),
    "a lot, and no lot on the label": (
        answers(),
        answers(label={"lot": "none"}),
        [("readings-differ", "lot", {"label"})],
    ),
    "two lots: the engine's business": (answers(), answers(label={"lot": "LOT-8"}), []),
    "a use-by date, and none on the label: the engine's business": (
        answers(),
        answers(label={"use_by": "none"}),
        [],
    ),
    "an alarm limit, and none set: the engine's business": (
        answers(monitor={"low_spo2": "none"}),
        answers(),
        [],
    ),
    "the chart left blank: the chart's own rules speak of it": (
        answers(chart={"allergy": None}),
        answers(),
        [],
    ),
    "the strength left out": (
        answers(label={"strength": None, "amount": None, "volume": None}),
        answers(),
        [
            ("reading-missing", "amount", {"label"}),
            ("reading-missing", "concentration", {"label"}),
            ("reading-missing", "volume", {"label"}),
        ],
    ),
    "the wristband left blank": (
        answers(wristband={"identifier": None}),
        answers(),
        [("reading-missing", "patient.identifier", {"wristband"})],
    ),
    "the carrier left blank in both sources": (
        answers(order={"carrier_fluid": None, "carrier_rate": None}, device={"carrier_fluid": None}),
        answers(),
        [
            ("reading-missing", "carrier.fluid", {"device"}),
            ("reading-missing", "carrier.fluid", {"order"}),
            ("reading-missing", "carrier.rate", {"order"}),
        ],
    ),
}


def told(found: Said) -> list[tuple[str, str, set[str]]]:
    return [(each.code, each.field, {name.partition(".")[2] for name in each.readings}) for each in found]


@pytest.mark.parametrize("case", READ)
def test_what_we_find_ourselves(case: str) -> None:
    first, second, wanted = READ[case]
    found = beside(first, second, [])

    assert told(found) == wanted
    assert all(each.severity == "stop" and each.says for each in found)
    assert {each.origin for each in found} <= {"reading", "programming"}
    assert all((each.origin == "programming") is (each.code == "device-differs") for each in found)


def test_what_is_ordered_and_not_set_is_named_as_both_read_it_in_both() -> None:
    none = answers(device={"carrier_fluid": "none", "carrier_rate": None})
    (found,) = beside(none, none, [])

    fluid = answers()["order"]["carrier_fluid"]
    assert found.readings == {"A.order": fluid, "B.order": fluid, "A.device": "none", "B.device": "none"}


def test_what_both_read_is_named_with_who_read_it() -> None:
    (found,) = beside(answers(), answers(device={"pack": "set-200-y"}), [])

    assert found.readings == {"A.device": "set-150-y", "B.device": "set-200-y"}


def test_a_carrier_that_runs_and_one_that_does_not_are_told_apart() -> None:
    without = {"carrier_fluid": "none", "carrier_rate": None}
    runs, stands = (
        beside(both, both, [])[0].says for both in (answers(order=without), answers(device=without))
    )

    assert runs == "No carrier is ordered, and one is set to run."
    assert stands == "A carrier is ordered, and none is set to run."


# ---------------------------------------------------------------------------------------------------------
# What the engine has said is not said again, and nothing else is left out

NO_CARRIER_READ = answers(device={"carrier_fluid": "none", "carrier_rate": None})
BOTH_NONE_ORDERED = answers(order={"carrier_fluid": "none", "carrier_rate": None})


@pytest.mark.parametrize(
    ("first", "second", "engine"),
    [
        (
            answers(device={"pack": None}),
            answers(),
            a_finding("reading-missing", "pack", {"A.device": None, "B.device": "set-150-y"}),
        ),
        (
            answers(wristband={"identifier": None}),
            answers(),
            a_finding(
                "reading-missing", "patient.identifier", {"A.wristband": None, "B.wristband": "DM-40417"}
            ),
        ),
        (
            BOTH_NONE_ORDERED,
            BOTH_NONE_ORDERED,
            a_finding("device-differs", "carrier.fluid", {"A.order": None, "A.device": NACL}),
        ),
    ],
)
def test_what_the_engine_says_is_not_said_twice(first: Answers, second: Answers, engine: Found) -> None:
    assert beside(first, second, []) != ()
    assert beside(first, second, [engine]) == ()


def test_a_rule_never_hides_that_two_read_differently() -> None:
    # A reads a carrier that the site does not allow, B reads that there is none. Were only the rule said, it
    # could be set aside, and nobody would know that the two disagree.
    rule = a_finding("carrier-not-allowed", "carrier.fluid", {"A.device": "glucose 5%", "B.device": None})
    found = beside(answers(device={"carrier_fluid": "glucose 5%"}), NO_CARRIER_READ, [rule])

    assert [(each.code, each.follow) for each in found] == [("readings-differ", Follow.READ_AGAIN)]


def test_what_is_missing_in_one_source_does_not_hide_what_is_missing_in_another() -> None:
    engine = a_finding(
        "reading-missing",
        "carrier.fluid",
        {"A.order": NACL, "B.order": NACL, "A.device": None, "B.device": NACL},
    )
    first = answers(order={"carrier_fluid": None, "carrier_rate": None}, device={"carrier_fluid": None})

    assert told(beside(first, answers(), [engine])) == [
        ("reading-missing", "carrier.fluid", {"order"}),
        ("reading-missing", "carrier.rate", {"order"}),
    ]


def test_a_caution_hides_nothing() -> None:
    caution = a_finding("limit-required", "carrier.fluid", {"A.device": NACL, "B.device": None})

    assert beside(answers(), NO_CARRIER_READ, [caution]) == beside(answers(), NO_CARRIER_READ, [])
