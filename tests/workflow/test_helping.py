"""What a third person settled is read again by both, alone; and where it stands how it was settled."""

import pytest

from app.records import events
from app.records.state import Phase
from app.workflow import helping, reading, settling
from app.workflow.listing import unit_list
from app.workflow.refusals import Incomplete, NotAllowed, NotNow
from tests.factories.answers import answers
from tests.story.people import NADIA, PETRA, RUTH, TOMAS, Somebody
from tests.story.ward import DIFFERING, Ward

TEN_TIMES = answers(device={"demand_dose": "2 mg", "limit_amount": "8 mg"})


def settles(ward: Ward, who: Somebody, outcome: str, text: str = "") -> object:
    return helping.settle_help(ward.site, ward.act(who), ward.check, outcome=outcome, text=text)


def asked(ward: Ward, *read: dict[str, dict[str, str]]) -> Ward:
    return ward.opens().joins().both_read(*read).compares().asks_for_help().takes_help()


def whole(*sources: str) -> tuple[tuple[str, tuple[str, ...]], ...]:
    return tuple((each, ()) for each in sources)


@pytest.mark.parametrize(
    ("outcome", "scope"),
    [
        ("order-clarified", whole("order")),
        ("syringe-returned", whole("label")),
        ("device-reprogrammed", whole("device")),
        ("identity-resolved", whole("wristband", "chart", "order", "label")),
    ],
)
def test_exactly_what_was_put_right_is_read_again_by_both(
    one_ward: Ward, outcome: str, scope: object
) -> None:
    asked(one_ward, TEN_TIMES, TEN_TIMES).settles_help(outcome)
    current = one_ward.state().current

    assert current
    assert (current.number, current.scope, current.opened_by) == (2, scope, RUTH.id)
    assert current.outcome == outcome
    for who in (NADIA, TOMAS):
        desk = reading.open_desk(one_ward.site, one_ward.act(who), one_ward.check)
        assert isinstance(desk, reading.Desk)
        assert desk.answers == {}
        assert [each.findings for each in desk.state.rounds] == [(), ()]
        assert [each.settled_text for each in desk.state.help] == [""]


def test_what_differs_is_read_again_with_it(one_ward: Ward) -> None:
    asked(one_ward, answers(), DIFFERING).settles_help("order-clarified")
    current = one_ward.state().current

    assert current
    assert current.scope == (("order", ()), ("device", ("demand_dose",)))


def test_it_stands_in_record_row_and_list_how_it_was_settled(ward: Ward) -> None:
    asked(ward, TEN_TIMES, TEN_TIMES).settles_help("device-reprogrammed")

    (line,) = unit_list(ward.site, ward.act(RUTH)).unit
    assert line.outcome == "device-reprogrammed"
    ward.both_read().compares().confirms_all().both_sign().both_look().starts()
    with ward.site.store.read() as reader:
        (frozen,) = reader.frozen_records(ward.check)
        rows = reader.settled_rows(ward.check)
    assert [each.get("outcome") for each in frozen.told["rounds"]] == [None, "device-reprogrammed"]
    assert [each["outcome"] for each in frozen.told["help"]] == ["device-reprogrammed"]
    assert frozen.told["rounds"][1]["put_right"]["person"] == RUTH.id
    assert {(each.settled, each.settled_outcome, each.settled_by) for each in rows} == {
        ("put right", "device-reprogrammed", ""),
        ("for information", "", ""),
    }


def test_it_is_settled_once_and_by_whoever_took_it(one_ward: Ward) -> None:
    asked(one_ward, answers(), DIFFERING)
    for who in (NADIA, TOMAS, PETRA):
        assert settles(one_ward, who, "device-reprogrammed") == NotAllowed()

    assert settles(one_ward, RUTH, "device-reprogrammed") == settling.Done()
    assert settles(one_ward, RUTH, "device-reprogrammed") == NotNow(phase=Phase.READING)
    assert len(one_ward.state().rounds) == 2


@pytest.mark.parametrize("outcome", ["order-clarified", "exception-granted", "device-reprogrammed"])
def test_what_does_not_fit_a_handoff_is_refused_and_nothing_happens(one_ward: Ward, outcome: str) -> None:
    one_ward.at_stage(Phase.STARTED).hands_over().asks_for_help().takes_help()
    before = one_ward.state().last_position

    assert settles(one_ward, RUTH, outcome) == helping.DoesNotFit()
    assert settles(one_ward, RUTH, "read-again") == helping.DoesNotFit()
    assert one_ward.state().last_position == before


def test_what_no_word_says_is_written(one_ward: Ward) -> None:
    asked(one_ward, answers(), DIFFERING)

    assert settles(one_ward, RUTH, "other", " ") == Incomplete(fields=("more",))
    assert settles(one_ward, RUTH, "other", "they had two devices in view") == settling.Done()
    assert one_ward.phase is Phase.DISPUTED


def test_an_exception_is_an_outcome_once_it_was_granted_by_whom_policy_allows(one_ward: Ward) -> None:
    high = {"demand_dose": "0.8 mg", "limit_amount": "4 mg"}
    asked(one_ward, answers(order=high, device=high))

    assert settles(one_ward, RUTH, "exception-granted") == helping.DoesNotFit()
    one_ward.grants("above-hard-limit").settles_help("exception-granted")
    assert one_ward.state().open_stops == ()
    assert one_ward.state().open_help is None


def test_after_help_the_two_may_read_once_more_though_they_had_read_again_twice(one_ward: Ward) -> None:
    one_ward.at_stage(Phase.DISPUTED)
    for _ in range(2):
        one_ward.reads_again().both_read(answers(), DIFFERING).compares()
    assert one_ward.state().needs_help

    one_ward.asks_for_help().takes_help().settles_help("other")
    assert not one_ward.state().needs_help
    one_ward.reads_again().both_read(answers(), DIFFERING).compares()
    assert one_ward.state().needs_help


def happened(ward: Ward) -> list[str]:
    with ward.site.store.read() as reader:
        return [each.event.kind for each in reader.entries(ward.check) if each.event.kind != "handed-in"]


def test_what_is_put_right_while_they_read_is_read_anew_whoever_had_handed_in(one_ward: Ward) -> None:
    told = []
    for first_has in (True, False):
        one_ward.opens(bed="7" if first_has else "8").joins().drafts(TOMAS, answers())
        if first_has:
            one_ward.reads(NADIA)
        one_ward.asks_for_help(TOMAS).takes_help().settles_help("order-clarified")
        told.append(happened(one_ward))
        desk = reading.open_desk(one_ward.site, one_ward.act(TOMAS), one_ward.check)
        assert isinstance(desk, reading.Desk)
        assert "order" not in desk.answers
        assert desk.answers["label"]["drug"] == answers()["label"]["drug"]

    assert told[0] == told[1]
    assert one_ward.phase is Phase.READING
    one_ward.both_read().compares()
    assert [each.voided for each in one_ward.state().rounds] == ["put right while it was read", ""]


def test_help_that_was_asked_for_before_the_second_had_joined_is_settled_too(one_ward: Ward) -> None:
    one_ward.opens().reads(NADIA).asks_for_help().takes_help().settles_help("syringe-returned")

    assert one_ward.joins().both_read().compares().phase is Phase.STEPS


def test_a_check_whose_device_was_stopped_meanwhile_is_settled_all_the_same(one_ward: Ward) -> None:
    asked(one_ward, TEN_TIMES, TEN_TIMES).stops()

    assert settles(one_ward, RUTH, "device-reprogrammed") == settling.Done()
    assert one_ward.state().stopped


def test_what_was_signed_by_one_counts_no_longer_once_the_order_was_clarified(one_ward: Ward) -> None:
    one_ward.at_stage(Phase.SIGNING).signs(NADIA).asks_for_help().takes_help().settles_help("order-clarified")

    assert one_ward.state().frozen_digest == ""
    assert dict(one_ward.state().signatures) == {}
    assert one_ward.phase is Phase.READING


def test_a_check_that_is_given_up_says_that_who_helped_ended_it(one_ward: Ward) -> None:
    asked(one_ward, answers(), DIFFERING).settles_help("abandon")

    with one_ward.site.store.read() as reader:
        last = reader.entries(one_ward.check)[-1]
    assert isinstance(last.event, events.Abandoned)
    assert last.infusion == one_ward.state().check.infusion
