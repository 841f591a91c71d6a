"""What the two do not settle alone: help, a rule set aside; and a check that is given up."""

import pytest

from app.records import events
from app.records.state import Phase
from app.records.visibility import Sight
from app.workflow import helping, opening, settling
from app.workflow.looking import Seen, see_check
from app.workflow.refusals import Incomplete, NotAllowed, NotFound, NotNow, NotYours
from tests.factories.answers import answers
from tests.story.people import ADELE, IMOGEN, INES, NADIA, PETRA, QUILL, RALPH, RUTH, TOMAS, WARD, Somebody
from tests.story.ward import DIFFERING, Ward

# Above the library's hard limit of 0.6 mg for one demand, and no stop besides.
TOO_HIGH = answers(
    order={"demand_dose": "0.8 mg", "limit_amount": "4 mg"},
    device={"demand_dose": "0.8 mg", "limit_amount": "4 mg"},
)


def sight_of(ward: Ward, who: Somebody) -> Sight:
    seen = see_check(ward.site, ward.act(who), ward.check)
    assert isinstance(seen, Seen)
    return seen.sight


# ---------------------------------------------------------------------------------------------------------
# Help


def test_a_third_person_takes_the_request_and_sees_everything(ward: Ward) -> None:
    ward.at_stage(Phase.ESCALATED)
    assert sight_of(ward, RUTH) is Sight.PROGRESS
    ward.takes_help(RUTH)

    assert sight_of(ward, RUTH) is Sight.EVERYTHING
    assert sight_of(ward, NADIA) is Sight.FIELDS


def takes(ward: Ward, who: Somebody, *, over: str = "") -> object:
    return helping.take_help(ward.site, ward.act(who), who.roles, ward.check, over=over)


def settles(ward: Ward, who: Somebody, outcome: str) -> object:
    return helping.settle_help(ward.site, ward.act(who), ward.check, outcome=outcome, text="I looked.")


def test_who_may_take_a_request(ward: Ward) -> None:
    ward.at_stage(Phase.ESCALATED)

    assert takes(ward, IMOGEN) == NotAllowed()
    # A charge nurse of another unit is not told of this unit's checks; a pharmacist serves every unit.
    assert takes(ward, RALPH) == NotFound()
    assert takes(ward, PETRA) == settling.Done()
    assert takes(ward, RUTH) == helping.TakenAlready()
    assert settles(ward, RUTH, "other") == NotAllowed()
    assert settles(ward, PETRA, "have-a-look") == Incomplete(fields=("outcome",))
    assert settles(ward, PETRA, "other") == settling.Done()
    assert settles(ward, PETRA, "other") == NotNow(phase=Phase.DISPUTED)
    assert takes(ward, RUTH) == NotNow(phase=Phase.DISPUTED)


def test_a_request_is_taken_over_from_whoever_the_page_named(ward: Ward) -> None:
    ward.at_stage(Phase.ESCALATED).takes_help(RUTH)

    assert takes(ward, RUTH) == settling.Done()
    assert takes(ward, NADIA, over=RUTH.id) == NotAllowed()
    assert takes(ward, PETRA, over=RUTH.id) == settling.Done()
    # Pressed twice, and pressed on a page that is no longer so.
    assert takes(ward, PETRA, over=RUTH.id) == settling.Done()
    assert takes(ward, RUTH) == helping.TakenAlready()
    assert settles(ward, RUTH, "other") == helping.TakenOver()
    assert (sight_of(ward, RUTH), sight_of(ward, PETRA)) == (Sight.PROGRESS, Sight.EVERYTHING)
    # Handed back.
    assert takes(ward, RUTH, over=PETRA.id) == settling.Done()
    assert settles(ward, PETRA, "other") == helping.TakenOver()
    assert settles(ward, RUTH, "other") == settling.Done()
    assert settles(ward, PETRA, "other") == helping.TakenOver()
    with ward.site.store.read() as reader:
        taken = [(each.turn, each.person) for each in reader.help_takers(ward.check)]
    assert taken == [(1, RUTH.id), (2, PETRA.id), (3, RUTH.id)]


def test_whoever_had_a_request_joins_neither_this_check_nor_the_next(ward: Ward) -> None:
    ward.opens(NADIA).asks_for_help(NADIA).takes_help(RUTH).takes_help(PETRA)

    assert ward.joining(RUTH) == opening.ThirdPersonElsewhere()


def test_who_comes_from_another_unit_helps_once_signed_in_on_this_one(ward: Ward) -> None:
    """At night the charge nurse is one of the two, and the unit has no third."""
    ward.opens(RUTH).joins(TOMAS).reads(RUTH).reads(TOMAS, DIFFERING).compares().asks_for_help(TOMAS)
    assert takes(ward, RALPH) == NotFound()

    ward.signs_in(RALPH, unit=WARD)
    assert takes(ward, RALPH) == settling.Done()
    # Back on the own unit the request is still the own one; and a third person is none of the next two.
    ward.signs_in(RALPH)
    assert settles(ward, RALPH, "abandon") == settling.Done()
    bed = ward.state().check.bed
    ward.signs_in(RALPH, unit=WARD)
    assert ward.opening(RALPH, bed=bed) == opening.ThirdPersonElsewhere()


@pytest.mark.parametrize("who", [INES, ADELE, QUILL])
def test_a_shift_on_this_unit_makes_nobody_a_third_person_without_the_role(
    one_ward: Ward, who: Somebody
) -> None:
    one_ward.at_stage(Phase.ESCALATED)

    one_ward.signs_in(who, unit=WARD)
    assert takes(one_ward, who) == NotAllowed()


def test_one_of_the_two_never_helps_whatever_the_form_says(ward: Ward) -> None:
    ward.opens(RUTH).joins(TOMAS).reads(RUTH).reads(TOMAS, DIFFERING).compares().asks_for_help(TOMAS)

    # The database refuses it.
    assert takes(ward, RUTH) == helping.OneOfTheTwo()
    assert ward.state().help[0].taken_by == ""


def test_help_is_asked_for_by_the_two_once_at_a_time_and_before_clearance(one_ward: Ward) -> None:
    def asks(who: Somebody) -> object:
        return settling.ask_for_help(one_ward.site, one_ward.act(who), one_ward.check, why="", text="")

    one_ward.at_stage(Phase.READING)
    assert asks(IMOGEN) == NotYours()
    assert asks(TOMAS) == settling.Done()
    assert asks(NADIA) == NotNow(phase=Phase.READING)
    one_ward.at_stage(Phase.CLEARED)
    assert asks(NADIA) == NotNow(phase=Phase.CLEARED)
    one_ward.check = "no-such-check"
    assert asks(NADIA) == NotFound()
    assert takes(one_ward, RUTH) == NotFound()
    assert settles(one_ward, RUTH, "other") == NotFound()


def test_the_third_person_may_end_the_check(ward: Ward) -> None:
    ward.at_stage(Phase.ESCALATED).takes_help().settles_help("abandon")

    assert (ward.phase, ward.state().abandoned) == (Phase.ABANDONED, "escalation")


def test_what_was_being_typed_goes_when_the_third_person_ends_the_check(ward: Ward) -> None:
    ward.at_stage(Phase.READING).drafts(TOMAS, answers()).drafts(NADIA, answers())
    ward.asks_for_help(TOMAS).takes_help().settles_help("abandon")

    with ward.site.store.read() as reader:
        assert [reader.drafts(ward.check, 1, each.id) for each in (NADIA, TOMAS)] == [{}, {}]


def test_an_abandoned_check_is_helped_by_nobody(ward: Ward) -> None:
    ward.at_stage(Phase.ESCALATED).takes_help().abandons()
    before = ward.state().last_position

    assert takes(ward, PETRA) == NotNow(phase=Phase.ABANDONED)
    assert settles(ward, RUTH, "abandon") == NotNow(phase=Phase.ABANDONED)
    assert grants(ward, RUTH, "any") == NotNow(phase=Phase.ABANDONED)
    assert ward.state().last_position == before


# ---------------------------------------------------------------------------------------------------------
# Exceptions


def grants(
    ward: Ward, who: Somebody, finding: str, *, reason: str = "pain team's plan", prescriber: str = ""
) -> object:
    return helping.grant_exception(
        ward.site, ward.act(who), who.roles, ward.check, finding=finding, reason=reason, prescriber=prescriber
    )


def over_the_limit(ward: Ward, helper: Somebody) -> str:
    ward.opens().joins().both_read(TOO_HIGH).compares()
    assert [each.code for each in ward.state().open_stops] == ["above-hard-limit"]
    ward.asks_for_help().takes_help(helper)
    return ward.found("above-hard-limit").key


def test_a_pharmacist_sets_a_rule_aside(ward: Ward) -> None:
    key = over_the_limit(ward, PETRA)

    assert grants(ward, PETRA, key) == settling.Done()
    assert ward.phase in {Phase.AGREED, Phase.STEPS}
    (exempt,) = ward.state().exemptions
    assert (exempt.code, exempt.field, exempt.by) == ("above-hard-limit", "demand_dose", PETRA.id)
    # Once: it is set aside already.
    assert grants(ward, PETRA, key) == settling.NoSuchFinding()


def test_a_charge_nurse_does_it_only_with_the_prescriber_named(ward: Ward) -> None:
    key = over_the_limit(ward, RUTH)

    assert grants(ward, RUTH, key, prescriber=" ") == Incomplete(fields=("prescriber",))
    assert grants(ward, RUTH, key, reason="", prescriber="") == Incomplete(fields=("reason", "prescriber"))
    assert grants(ward, RUTH, key, prescriber="Dr Brandt") == settling.Done()


def test_only_the_third_person_who_took_the_request_sets_a_rule_aside(one_ward: Ward) -> None:
    one_ward.opens().joins().both_read(TOO_HIGH).compares()
    key = one_ward.found("above-hard-limit").key

    assert grants(one_ward, NADIA, key) == NotAllowed()
    assert grants(one_ward, PETRA, key) == NotNow(phase=Phase.DISPUTED)
    one_ward.asks_for_help()
    assert grants(one_ward, PETRA, key) == NotAllowed()
    one_ward.takes_help(RUTH)
    assert grants(one_ward, PETRA, key) == NotAllowed()
    assert grants(one_ward, RUTH, "no-such-finding", prescriber="Dr Brandt") == settling.NoSuchFinding()
    one_ward.check = "no-such-check"
    assert grants(one_ward, PETRA, key) == NotFound()


# The wrong patient, readings that differ, a device or label that is not the order, an old label, an allergy.
NEVER = {
    "patient-differs": (answers(order={"identifier": "DM-40471"}), answers(order={"identifier": "DM-40471"})),
    "readings-differ": (answers(), DIFFERING),
    "device-differs": (DIFFERING, DIFFERING),
    "label-differs": (answers(label={"amount": "60 mg"}), answers(label={"amount": "60 mg"})),
    "label-expired": (answers(label={"use_by": "2031-05-01"}), answers(label={"use_by": "2031-05-01"})),
    "allergy-charted": (
        answers(chart={"allergy": "to-this-drug-or-its-family"}),
        answers(chart={"allergy": "to-this-drug-or-its-family"}),
    ),
}


@pytest.mark.parametrize("code", NEVER)
def test_no_exception_is_ever_granted_for(one_ward: Ward, code: str) -> None:
    one_ward.opens().joins().both_read(*NEVER[code]).compares().asks_for_help().takes_help(PETRA)

    assert grants(one_ward, PETRA, one_ward.found(code).key) == settling.NoSuchFinding()
    assert one_ward.phase is Phase.ESCALATED


def test_an_exception_is_for_one_value(one_ward: Ward) -> None:
    key = over_the_limit(one_ward, PETRA)
    grants(one_ward, PETRA, key)
    one_ward.settles_help("other", PETRA)
    higher = answers(
        order={"demand_dose": "0.9 mg", "limit_amount": "4 mg"},
        device={"demand_dose": "0.9 mg", "limit_amount": "4 mg"},
    )
    one_ward.reads_again(NADIA, "order", "device").both_read(higher).compares()

    assert [each.code for each in one_ward.state().open_stops] == ["above-hard-limit"]


def test_an_exception_for_what_is_given_in_four_hours_is_for_that_amount(one_ward: Ward) -> None:
    # Above 8 mg in 4 h: a finding without readings of its own, whose figure stands in what it says.
    def four_hours(lockout: str) -> dict[str, dict[str, str]]:
        changes = {"demand_dose": "0.6 mg", "lockout": lockout, "limit_amount": "none", "limit_window": None}
        return answers(order=changes, device=changes)

    one_ward.opens().joins().both_read(four_hours("10 min")).compares()
    one_ward.asks_for_help().takes_help(PETRA)
    assert grants(one_ward, PETRA, one_ward.found("above-hard-limit").key) == settling.Done()
    assert one_ward.state().open_stops == ()
    one_ward.settles_help("other", PETRA)
    one_ward.reads_again(NADIA, "order", "device").both_read(four_hours("5 min")).compares()

    assert [each.field for each in one_ward.state().open_stops] == ["amount_per_4_hours"]


# ---------------------------------------------------------------------------------------------------------
# Abandoning


@pytest.mark.parametrize(
    "phase",
    [
        Phase.OPENED,
        Phase.READING,
        Phase.BOTH_HANDED_IN,
        Phase.DISPUTED,
        Phase.ESCALATED,
        Phase.AGREED,
        Phase.STEPS,
        Phase.SIGNING,
        # Its clearance is over, and nobody but its two could read again.
        Phase.LAPSED,
    ],
)
def test_a_check_can_be_given_up_any_time_before_clearance(one_ward: Ward, phase: Phase) -> None:
    assert one_ward.at_stage(phase).abandons().phase is Phase.ABANDONED


@pytest.mark.parametrize("phase", [Phase.CLEARED, Phase.STARTED, Phase.ABANDONED])
def test_and_never_while_it_stands_or_after_it(one_ward: Ward, phase: Phase) -> None:
    one_ward.at_stage(phase)
    said = settling.abandon(one_ward.site, one_ward.act(NADIA), one_ward.check, reason="time", text="")

    assert said == NotNow(phase=phase)


def ends(ward: Ward, who: Somebody, reason: str = "left") -> object:
    return settling.abandon(ward.site, ward.act(who), ward.check, reason=reason, text="")


@pytest.mark.parametrize(
    "phase", [Phase.OPENED, Phase.READING, Phase.BOTH_HANDED_IN, Phase.DISPUTED, Phase.LAPSED]
)
def test_who_is_in_charge_of_the_unit_ends_a_check_that_its_two_have_left(ward: Ward, phase: Phase) -> None:
    ward.at_stage(phase)
    bed = ward.state().check.bed

    assert ends(ward, RUTH, "") == Incomplete(fields=("reason",))
    assert ends(ward, RUTH) == settling.Done()

    state = ward.state()
    assert (state.phase, state.abandoned, state.abandoned_by) == (Phase.ABANDONED, "left", RUTH.id)
    with ward.site.store.read() as reader:
        (ended,) = [each for each in reader.entries(ward.check) if isinstance(each.event, events.Abandoned)]
        assert (ended.by, ended.session) == (RUTH.id, ward.act(RUTH).by.session)
        # The drafts go as they do when its two end it.
        assert reader.drafts(ward.check, 1, NADIA.id) == {}
    # The bed is free, and whoever ended the check has seen nothing that would bar her from the next one.
    ward.opens(RUTH, bed=bed)


@pytest.mark.parametrize("who", [IMOGEN, PETRA, RALPH, QUILL, ADELE])
def test_nobody_else_ends_the_check_of_others(one_ward: Ward, who: Somebody) -> None:
    one_ward.at_stage(Phase.READING)

    assert ends(one_ward, who) == NotYours()
    # A shift here makes nobody a charge nurse; a charge nurse's counts where it is taken.
    one_ward.signs_in(who, unit=WARD)
    assert ends(one_ward, who) == (settling.Done() if who is RALPH else NotYours())


@pytest.mark.parametrize("phase", [Phase.CLEARED, Phase.STARTED])
def test_what_is_cleared_is_ended_by_nobody(one_ward: Ward, phase: Phase) -> None:
    one_ward.at_stage(phase)

    assert ends(one_ward, RUTH) == NotNow(phase=phase)


def test_ending_a_check_shows_nothing_that_was_never_compared(one_ward: Ward) -> None:
    one_ward.at_stage(Phase.READING).drafts(TOMAS, answers())
    before = see_check(one_ward.site, one_ward.act(RUTH), one_ward.check)
    ends(one_ward, RUTH)
    after = see_check(one_ward.site, one_ward.act(RUTH), one_ward.check)

    assert isinstance(before, Seen)
    assert before.sight is Sight.PROGRESS
    assert isinstance(after, Seen)
    assert after.loaded.comparisons == ()
    assert after.loaded.last_comparison is None


def test_who_gives_up_and_with_which_reason(one_ward: Ward) -> None:
    one_ward.at_stage(Phase.READING)

    def abandons(who: Somebody, reason: str) -> object:
        return settling.abandon(one_ward.site, one_ward.act(who), one_ward.check, reason=reason, text="")

    assert abandons(IMOGEN, "time") == NotYours()
    assert abandons(NADIA, "") == Incomplete(fields=("reason",))
    one_ward.drafts(NADIA, answers())
    assert abandons(NADIA, "time") == settling.Done()
    with one_ward.site.store.read() as reader:
        assert reader.drafts(one_ward.check, 1, NADIA.id) == {}
    one_ward.check = "no-such-check"
    assert abandons(NADIA, "time") == NotFound()
