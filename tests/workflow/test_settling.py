"""After a comparison: read again what differs, put a source right, acknowledge a caution."""

import pytest

from app.records.followup import scope_to_read_again
from app.records.state import Phase
from app.records.visibility import Sight
from app.workflow import settling
from app.workflow.looking import Seen, see_check
from app.workflow.refusals import Incomplete, NotFound, NotNow, NotYours
from tests.factories.answers import answers
from tests.story.people import IMOGEN, NADIA, TOMAS, Somebody
from tests.story.ward import CAUTIONED, DIFFERING, Ward


def reads_again(ward: Ward, who: Somebody, *touched: str) -> object:
    return settling.read_again(ward.site, ward.act(who), ward.check, touched=touched, why="")


def sight_of(ward: Ward, who: Somebody) -> Sight:
    seen = see_check(ward.site, ward.act(who), ward.check)
    assert isinstance(seen, Seen)
    return seen.sight


# ---------------------------------------------------------------------------------------------------------
# Readings that differ


def test_while_readings_differ_the_two_see_only_field_and_source(ward: Ward) -> None:
    ward.at_stage(Phase.DISPUTED)

    for who in (NADIA, TOMAS):
        seen = see_check(ward.site, ward.act(who), ward.check)
        assert isinstance(seen, Seen)
        assert seen.sight is Sight.FIELDS
        # No value is handed out: neither readings nor figures nor what else was found.
        assert seen.loaded.comparisons == ()
    assert scope_to_read_again(ward.state().open_stops) == (("device", ("demand_dose",)),)
    assert sight_of(ward, IMOGEN) is Sight.PROGRESS


def test_once_their_readings_agree_the_two_see_everything(ward: Ward) -> None:
    ward.at_stage(Phase.DISPUTED).reads_again(TOMAS).both_read().compares()

    assert ward.phase is Phase.STEPS
    assert sight_of(ward, NADIA) is Sight.EVERYTHING
    assert sight_of(ward, IMOGEN) is Sight.PROGRESS


def test_the_two_read_again_twice_and_then_a_third_person_must_look(ward: Ward) -> None:
    ward.at_stage(Phase.DISPUTED)
    for _ in range(2):
        ward.reads_again().both_read(answers(), DIFFERING).compares()

    assert reads_again(ward, NADIA) == settling.HelpNeeded()
    # Saying that a source was touched buys no further try.
    assert reads_again(ward, NADIA, "device") == settling.HelpNeeded()
    ward.asks_for_help().takes_help().settles_help("read-again")
    ward.both_read().compares()
    assert ward.phase is Phase.STEPS


def test_what_differs_and_what_was_touched_are_read_again_together(ward: Ward) -> None:
    ward.at_stage(Phase.DISPUTED).reads_again(NADIA, "label")
    current = ward.state().current
    assert current is not None

    assert current.scope == (("label", ()), ("device", ("demand_dose",)))
    assert current.touched == ("label",)


def test_a_touched_source_is_read_whole_though_only_one_field_of_it_differed(one_ward: Ward) -> None:
    one_ward.at_stage(Phase.DISPUTED).reads_again(NADIA, "device")
    current = one_ward.state().current
    assert current is not None

    assert current.scope == (("device", ()),)


def test_without_a_reason_nothing_is_read_again(one_ward: Ward) -> None:
    one_ward.at_stage(Phase.STEPS)

    assert reads_again(one_ward, NADIA) == Incomplete(fields=("touched",))
    assert reads_again(one_ward, NADIA, "no-such-source") == Incomplete(fields=("touched",))


@pytest.mark.parametrize(
    "phase",
    [Phase.OPENED, Phase.READING, Phase.BOTH_HANDED_IN, Phase.ESCALATED, Phase.STARTED, Phase.ABANDONED],
)
def test_nothing_is_read_again_before_a_comparison_while_help_is_open_or_after_the_end(
    one_ward: Ward, phase: Phase
) -> None:
    one_ward.at_stage(phase)

    assert reads_again(one_ward, NADIA, "device") == NotNow(phase=phase)


def test_only_the_two_have_it_read_again(one_ward: Ward) -> None:
    one_ward.at_stage(Phase.DISPUTED)

    assert reads_again(one_ward, IMOGEN) == NotYours()
    one_ward.check = "no-such-check"
    assert reads_again(one_ward, NADIA) == NotFound()


def test_the_same_click_twice_opens_one_reading(ward: Ward) -> None:
    ward.at_stage(Phase.DISPUTED)

    assert reads_again(ward, NADIA) == settling.NextReading(round=2)
    assert reads_again(ward, TOMAS) == NotNow(phase=Phase.READING)


# ---------------------------------------------------------------------------------------------------------
# A source that is wrong


def test_a_device_that_is_not_the_order_is_put_right_and_read_whole(ward: Ward) -> None:
    ward.opens().joins().both_read(DIFFERING, DIFFERING).compares()
    assert (ward.phase, sight_of(ward, TOMAS)) == (Phase.DISPUTED, Sight.EVERYTHING)
    assert reads_again(ward, TOMAS) == Incomplete(fields=("touched",))

    ward.reads_again(TOMAS, "device").both_read().compares()
    assert ward.phase is Phase.STEPS
    assert ward.state().rereadings == 0


def test_an_agreed_check_can_still_be_put_right(one_ward: Ward) -> None:
    one_ward.at_stage(Phase.SIGNING).reads_again(NADIA, "monitor").both_read().compares()

    assert one_ward.phase is Phase.STEPS
    assert one_ward.state().frozen_digest == ""


# ---------------------------------------------------------------------------------------------------------
# Cautions


def acknowledges(ward: Ward, who: Somebody, finding: str, reason: str, *, named: str = "Dr Brandt") -> object:
    return settling.acknowledge(
        ward.site, ward.act(who), ward.check, findings=(finding,), reasons=(reason,), named=named, text=""
    )


def test_a_caution_is_acknowledged_by_each_of_the_two(ward: Ward) -> None:
    ward.at_stage(Phase.AGREED)
    key = ward.found("patient-at-risk").key

    assert acknowledges(ward, NADIA, key, "prescriber-asked") == settling.Acknowledged()
    # Twice by one is not once by two.
    assert acknowledges(ward, NADIA, key, "prescriber-asked") == settling.NoSuchFinding()
    assert [len(ward.state().unacknowledged(slot)) for slot in (1, 2)] == [0, 1]
    assert acknowledges(ward, TOMAS, key, "stopped", named="") == settling.Acknowledged()
    assert ward.phase is Phase.STEPS


GROUPED = answers(
    chart={"sedatives": "charted", "allergy": "not-recorded"},
    order={"demand_dose": "0.5 mg"},
    device={"demand_dose": "0.5 mg"},
)


def answers_group(ward: Ward, who: Somebody, findings: list[str], *reasons: str, named: str = "") -> object:
    return settling.acknowledge(
        ward.site, ward.act(who), ward.check, findings=findings, reasons=reasons, named=named, text=""
    )


def test_the_cautions_of_one_group_are_answered_once_and_each_is_named(ward: Ward) -> None:
    ward.opens().joins().both_read(GROUPED, GROUPED).compares()
    keys = [ward.found(code).key for code in ("patient-at-risk", "allergy-not-recorded")]

    assert answers_group(ward, NADIA, keys, "watched-closely", "patient-asked") == settling.Acknowledged()

    told = [(each.finding, each.reason) for each in ward.state().acknowledgements]
    assert sorted(told) == sorted(zip(keys, ("watched-closely", "patient-asked"), strict=True))
    # The dose is of another group, and asks for an answer of its own.
    assert {each.code for each in ward.state().unacknowledged(1)} == {"above-soft-limit"}
    assert len(ward.state().unacknowledged(2)) == 3


def test_each_caution_of_a_group_needs_a_reason_of_its_own_list(one_ward: Ward) -> None:
    one_ward.opens().joins().both_read(GROUPED, GROUPED).compares()
    keys = [one_ward.found(code).key for code in ("patient-at-risk", "allergy-not-recorded")]

    for reasons in ((), ("watched-closely",), ("patient-asked",), ("watched-closely", "mild")):
        refused = answers_group(one_ward, NADIA, keys, *reasons)
        assert refused == Incomplete(fields=("reason",)), reasons
    # Asking the prescriber speaks to both, and the prescriber is named.
    assert answers_group(one_ward, NADIA, keys, "prescriber-asked") == Incomplete(fields=("named",))
    assert one_ward.state().acknowledgements == ()
    done = answers_group(one_ward, NADIA, keys, "prescriber-asked", named="Dr Brandt")
    assert done == settling.Acknowledged()


def test_cautions_of_two_groups_are_never_answered_in_one(one_ward: Ward) -> None:
    one_ward.opens().joins().both_read(GROUPED, GROUPED).compares()
    keys = [one_ward.found(code).key for code in ("patient-at-risk", "above-soft-limit")]

    both = answers_group(one_ward, NADIA, keys, "prescriber-asked", named="Dr Brandt")

    assert both == settling.NoSuchFinding()
    assert one_ward.state().acknowledgements == ()
    assert answers_group(one_ward, NADIA, []) == settling.NoSuchFinding()


def test_a_caution_of_the_group_that_comes_later_asks_again(one_ward: Ward) -> None:
    first = answers(chart={"sedatives": "charted"})
    one_ward.opens().joins().both_read(first, first).compares()
    key = one_ward.found("patient-at-risk").key
    for who in (NADIA, TOMAS):
        answers_group(one_ward, who, [key], "watched-closely")
    later = answers(chart={"sedatives": "charted", "allergy": "not-recorded"})
    one_ward.reads_again(NADIA, "chart").both_read(later, later).compares()

    assert {each.code for each in one_ward.state().unacknowledged(1)} == {"allergy-not-recorded"}
    # The answer that was given names what it was about, and no more.
    again = answers_group(one_ward, NADIA, [key, one_ward.found("allergy-not-recorded").key], "patient-asked")
    assert again == settling.NoSuchFinding()


@pytest.mark.parametrize(
    ("reason", "named", "refused"),
    [
        ("", "", ("reason",)),
        ("because", "", ("reason",)),
        # Whoever says that somebody was asked says who.
        ("prescriber-asked", " ", ("named",)),
    ],
)
def test_a_caution_takes_a_reason_from_its_own_list(
    one_ward: Ward, reason: str, named: str, refused: tuple[str, ...]
) -> None:
    one_ward.at_stage(Phase.AGREED)
    key = one_ward.found("patient-at-risk").key

    assert acknowledges(one_ward, NADIA, key, reason, named=named) == Incomplete(fields=refused)


def test_who_may_acknowledge_what_and_when(one_ward: Ward) -> None:
    one_ward.at_stage(Phase.AGREED)

    assert acknowledges(one_ward, IMOGEN, one_ward.found("patient-at-risk").key, "stopped") == NotYours()
    assert acknowledges(one_ward, NADIA, "no-such-finding", "stopped") == settling.NoSuchFinding()
    one_ward.at_stage(Phase.STEPS)
    assert acknowledges(one_ward, NADIA, "any", "stopped") == NotNow(phase=Phase.STEPS)
    one_ward.check = "no-such-check"
    assert acknowledges(one_ward, NADIA, "any", "stopped") == NotFound()


def test_an_acknowledged_caution_stands_as_long_as_it_says_the_same(ward: Ward) -> None:
    ward.at_stage(Phase.AGREED).acknowledges(NADIA, "patient-at-risk").acknowledges(TOMAS, "patient-at-risk")
    ward.reads_again(NADIA, "monitor").both_read(CAUTIONED).compares()

    assert ward.phase is Phase.STEPS


def test_a_caution_whose_figure_grew_is_acknowledged_anew(one_ward: Ward) -> None:
    # Above 6 mg in 4 h: the finding has no readings of its own, its figure stands in what it says.
    def up_to(limit: str) -> dict[str, dict[str, str]]:
        changes = {"demand_dose": "0.4 mg", "limit_amount": limit}
        return answers(order=changes, device=changes)

    one_ward.opens().joins().both_read(up_to("6.8 mg")).compares()
    one_ward.acknowledges(NADIA, "above-soft-limit").acknowledges(TOMAS, "above-soft-limit")
    assert one_ward.state().phase is Phase.STEPS
    one_ward.reads_again(NADIA, "order", "device").both_read(up_to("7.6 mg")).compares()

    assert one_ward.state().phase is Phase.AGREED
    assert [each.field for each in one_ward.state().unacknowledged(1)] == ["amount_per_4_hours"]
