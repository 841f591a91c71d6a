"""What ran and was stopped is set up anew: old totals first, which syringe it is by both, a new series."""

from datetime import timedelta
from fractions import Fraction
from typing import Any

import pytest

from app.auditing.invariants import check_invariants
from app.auditing.recounting import differing_accounts
from app.judging.account import balanced
from app.records.infusion import InfusionState
from app.records.issue_events import IssueSettled
from app.records.issued import issued_in
from app.records.kinds import RE_CHECK, REPEAT_SET_UP, SET_UP, SETTINGS_CHANGE
from app.records.reading import Answers
from app.records.rules import STEPS
from app.records.state import Phase
from app.site.loading import account_of, load_infusion
from app.storage import recounted
from app.workflow import emergencies, issuing_syringes, opening, taking_back
from tests.factories.answers import answers, changed, of_patient
from tests.story.people import NADIA, QUILL, TOMAS, WARD
from tests.story.proposing import approves_it, proposed, standing
from tests.story.ward import Ward
from tests.workflow.test_emergencies import does
from tests.workflow.test_holding_evidence import keeps

# By hand: 27.6 mL were left after priming, and 8 doses of 1 mL each are 8 mL and 1.6 mg.
OLD = {"total_amount": "1.6 mg", "presses": "9", "doses": "8", "left": "19.6 mL"}
NOT_SHOWN = dict.fromkeys(("total_amount", "presses", "doses"), "none")
COUNTS = {"counts_bolus": True, "counts_loading": True, "counts_prime": False}


@pytest.fixture
def stopped(ward: Ward) -> Ward:
    """It ran for four hours, and was stopped."""
    ward.at_stage(Phase.STARTED).wait(timedelta(hours=4)).stops(why="other")
    return ward.wait(timedelta(minutes=10))


def set_up_at(ward: Ward) -> Ward:
    """At the same bed."""
    return ward.opens(bed=ward.state().check.bed).joins()


def new(**totals: str) -> Answers:
    """A new syringe, its lot that of the one before."""
    return changed(answers(), totals={**OLD, **totals})


def same(left: str = "19.6 mL", **totals: str) -> Answers:
    """The one that was on, read once more."""
    return changed(new(**totals), label={"comes_as": "part-used", "part_left": left})


def runs_again(ward: Ward, read: Answers) -> Ward:
    set_up_at(ward).both_read(ward.of_its_patient(read)).compares()
    assert ward.phase is Phase.STEPS, [(each.code, each.field) for each in ward.state().findings]
    return ward.confirms_all().both_sign().both_look().starts()


def had_to_start(ward: Ward) -> Ward:
    """Two hours ago, without a check; now two re-check it."""
    ward.starts_without_check(bed="1").wait(timedelta(hours=2))
    with ward.site.store.read() as reader:
        (infusion,) = reader.infusions_at(WARD, "1")
    opened = opening.open_on_infusion(ward.site, ward.act(NADIA), RE_CHECK, infusion.id)
    assert isinstance(opened, opening.Opened)
    ward.check = opened.check
    return ward.joins()


def infusion_of(ward: Ward) -> InfusionState:
    infusion = ward.state().check.infusion
    with ward.site.store.read() as reader:
        return load_infusion(reader, infusion)


def entries_of(ward: Ward) -> list[dict[str, Any]]:
    infusion = ward.state().check.infusion
    with ward.site.store.read() as reader:
        return list(account_of(reader, infusion).written())


def kinds_since(ward: Ward, kind: str) -> list[str]:
    kinds = [each["kind"] for each in entries_of(ward)]
    return kinds[len(kinds) - kinds[::-1].index(kind) :]


def volumes(ward: Ward) -> list[dict[str, str | None]]:
    """Where each syringe's drug is, by the engine; counted once more in SQL it is the same."""
    infusion = ward.state().check.infusion
    with ward.site.store.read() as reader:
        assert list(differing_accounts(reader, ward.now)) == []
        again = reader.recounted([infusion], **COUNTS)[infusion]
    result = balanced(entries_of(ward), {})
    told = [
        {name: each and each["exact"] for name, each in it["volume"].items()} for it in result["syringes"]
    ]
    for one, other in zip(told, again, strict=True):
        assert isinstance(other, recounted.Recounted)
        assert other.left == (None if one["left"] is None else Fraction(one["left"]))
    assert check_invariants(ward.site, ward.now) == ()
    return told


def test_totals_and_what_is_left_are_read_first_and_then_all_that_a_set_up_reads(stopped: Ward) -> None:
    state = set_up_at(stopped).state()

    assert state.kind is REPEAT_SET_UP
    assert state.current is not None
    assert [name for name, _ in state.current.scope] == ["totals", *(name for name, _ in SET_UP.reads)]
    asked = {step.id for step in state.plan.steps} if state.plan else set()
    assert {
        "old-device-read",
        "parted-for-device",
        "old-kept",
        "new-line",
        "new-zero",
        "syringe-seated",
    } <= asked
    assert not {"totals-begin", "part-used-seated"} & asked


def test_what_never_ran_is_set_up_and_nothing_of_it_is_asked(ward: Ward) -> None:
    first = ward.opens().joins()
    bed = first.state().check.bed
    first.both_read().compares().abandons()
    first.opens(bed=bed).joins()

    assert (first.state().kind, first.state().course) == (SET_UP, "goes on")


def test_the_syringe_that_was_on_goes_on_and_its_new_totals_begin_at_zero(stopped: Ward) -> None:
    runs_again(stopped, same())

    assert kinds_since(stopped, "paused") == ["removed", "device", "loaded", "primed", "settings", "started"]
    (only,) = volumes(stopped)
    assert (only["delivered_by_device"], only["left"], only["difference"]) == ("8", "17.2", "0")
    assert "part-used-seated" in {step.id for step in stopped.state().plan.steps}  # type: ignore[union-attr]  # it has steps

    # Two more doses of 1 mL, counted from zero.
    stopped.wait(timedelta(hours=1)).re_checks()
    after = {"total_amount": "0.4 mg", "presses": "2", "doses": "2", "left": "15.2 mL"}
    stopped.both_read(answers(totals=after)).compares()
    assert stopped.state().findings == ()
    stopped.both_sign()
    (only,) = volumes(stopped)
    assert (only["delivered_by_device"], only["left"], only["difference"]) == ("10", "15.2", "0")


def test_a_new_one_of_the_same_lot_is_another_and_the_old_one_is_in_hand(stopped: Ward) -> None:
    runs_again(stopped, new())

    assert kinds_since(stopped, "removed") == ["issued", "device", "loaded", "primed", "settings", "started"]
    old, fresh = volumes(stopped)
    assert (old["delivered_by_device"], old["left"]) == ("8", "19.6")
    assert (fresh["delivered_by_device"], fresh["left"]) == ("0", "27.6")
    assert [each["code"] for each in balanced(entries_of(stopped), {})["findings"]] == ["in-hand"]


def test_one_of_another_lot_leaves_nothing_uncounted(stopped: Ward) -> None:
    runs_again(stopped, changed(new(), label={"lot": "LOT-8"}))

    old, fresh = volumes(stopped)
    assert (old["left"], old["difference"], fresh["difference"]) == ("19.6", "0", "0")


def test_less_in_the_one_that_was_on_than_was_just_read_is_a_stop_of_the_account(stopped: Ward) -> None:
    set_up_at(stopped).both_read(same(left="16.6 mL")).compares()

    assert stopped.found("part-used-volume-differs").is_of_account


def test_totals_that_nobody_can_read_any_more_leave_its_account_open(stopped: Ward) -> None:
    runs_again(stopped, new(**NOT_SHOWN))

    found = [each for each in balanced(entries_of(stopped), {})["findings"] if each["severity"] == "stop"]
    assert [(each["code"], each["syringe"]) for each in found] == [
        ("reading-missing", "1"),
        ("reading-missing", None),
    ]
    old, fresh = volumes(stopped)
    assert (old["delivered_by_device"], fresh["delivered_by_device"]) == (None, "0")


def test_totals_that_went_back_are_counted_together_once_and_then_signed_as_open(stopped: Ward) -> None:
    stopped.starts_without_check(bed=stopped.state().check.bed)
    stopped.re_checks().both_read(answers(totals=OLD)).compares().both_sign()
    stopped.wait(timedelta(hours=1)).stops(why="other").wait(timedelta(minutes=10))
    cleared = same(total_amount="0 mg", presses="0", doses="0")
    set_up_at(stopped).both_read(cleared).compares()

    assert "account-totals-went-back" in {each.code for each in stopped.state().open_account}
    assert stopped.state().recount_due


@pytest.mark.parametrize("read", [same(), new()], ids=["the one that ran", "a new one"])
def test_what_ran_and_was_never_read_by_two_is_signed_as_open(ward: Ward, read: Answers) -> None:
    ward.starts_without_check(bed="1")
    ward.wait(timedelta(hours=2)).stops_at("1").wait(timedelta(minutes=10))
    ward.opens(bed="1").joins().both_read(read).compares()

    assert ward.state().kind is REPEAT_SET_UP
    assert [each.code for each in ward.state().open_account] == ["ran-unread"]
    ward.confirms_all().both_sign().both_look().starts()
    assert infusion_of(ward).left_open is not None
    kinds = ["issued", "loaded", "primed", "settings", "started"]
    assert [each["kind"] for each in entries_of(ward)] == kinds
    (only,) = volumes(ward)
    # It begins with what was seen in it, less what ran out at priming.
    begun = "19.6 mL" if read == same() else "30 mL"
    assert (entries_of(ward)[0]["volume"], only["left"]) == (
        begun,
        "17.2" if read == same() else "27.6",
    )


@pytest.mark.parametrize("ends", ["leads on", "is given up"])
def test_what_a_check_read_of_it_that_led_here_is_where_its_account_begins(ward: Ward, ends: str) -> None:
    """It had to start, and the first check of it found a lockout that was not the order's."""
    had_to_start(ward)
    wrong = changed(answers(), device={"lockout": "5 min"}, totals={**OLD, "doses": "8", "presses": "9"})
    ward.both_read(wrong).compares()
    ward.leads_on() if ends == "leads on" else ward.abandons()
    # Nothing is in force that a narrower change could begin from.
    assert infusion_of(ward).led_to == REPEAT_SET_UP.name
    begun = ["issued", "loaded", "primed", "settings", "started", "read"]
    assert [each["kind"] for each in entries_of(ward)] == begun

    ward.stops_at("1").wait(timedelta(minutes=10)).opens(bed="1").joins().both_read(new()).compares()
    assert ward.state().open_account == ()
    ward.confirms_all().both_sign().both_look().starts()
    old, fresh = volumes(ward)
    assert (old["delivered_by_device"], old["left"], fresh["left"]) == ("8", "19.6", "27.6")


def test_of_a_check_that_two_read_apart_no_account_begins(ward: Ward) -> None:
    had_to_start(ward)
    ward.both_read(answers(), changed(answers(), totals={"left": "3 mL"})).compares().leads_on()

    assert entries_of(ward) == []


def test_totals_that_were_read_where_another_patient_lies_are_none_of_its_account(ward: Ward) -> None:
    ward.at_stage(Phase.STARTED).wait(timedelta(hours=4)).re_checks()
    ward.both_read(of_patient("DM-99999", answers(totals=OLD))).compares()
    assert ward.found("patient-differs").severity == "stop"
    ward.leads_on()

    assert entries_of(ward)[-1]["kind"] == "started"


@pytest.mark.parametrize("ends", ["leads on", "is given up"])
def test_what_is_gone_by_its_reading_is_the_charge_nurses_from_then_on(ward: Ward, ends: str) -> None:
    """Both signed nothing, and no later check finds it once more."""
    ward.at_stage(Phase.STARTED).wait(timedelta(hours=4)).re_checks()
    ward.both_read(changed(answers(totals={**OLD, "left": "9 mL"}), device={"lockout": "5 min"})).compares()
    assert "account-left-below-predicted" in {each.code for each in ward.state().open_account}
    ward.leads_on() if ends == "leads on" else ward.abandons()

    assert entries_of(ward)[-1]["left"] == "9 mL"
    assert infusion_of(ward).left_open is not None


def test_once_the_syringe_is_off_nothing_narrower_starts_it(stopped: Ward) -> None:
    set_up_at(stopped).reads(NADIA, new()).abandons()

    assert infusion_of(stopped).led_to == REPEAT_SET_UP.name
    barred = stopped.opening_on(NADIA, SETTINGS_CHANGE)
    assert isinstance(barred, opening.Barred)
    assert barred.led_to == REPEAT_SET_UP.name
    # Opened and given up before anybody did anything, it leaves all as it was.
    runs_again(stopped, new()).wait(timedelta(hours=1)).stops(why="other").wait(timedelta(minutes=10))
    set_up_at(stopped).abandons()
    assert infusion_of(stopped).led_to == ""


def test_one_that_was_replaced_before_it_ran_goes_from_that_one_though_its_label_is_the_same(
    stopped: Ward,
) -> None:
    """The barrel of the new one was cracked: a third is taken, of the same lot as both."""
    set_up_at(stopped).both_read(new()).compares()
    stopped.reads_again(NADIA, "label").both_read(new()).compares()
    stopped.confirms_all().both_sign().both_look().starts()

    first, second, third = volumes(stopped)
    assert (first["left"], second["left"], third["left"]) == ("19.6", "0", "27.6")
    assert second["wasted"] == "30"


def test_of_whoever_reads_as_the_second_the_volume_counts(stopped: Ward) -> None:
    set_up_at(stopped)
    stopped.reads(NADIA, same(left="20 mL")).reads(TOMAS, same(left="19.8 mL")).compares()

    assert stopped.state().open_stops == ()
    assert stopped.state().open_account == ()


def test_by_a_list_that_knows_no_part_used_syringe_at_a_set_up_it_is_seated_as_any_other(
    stopped: Ward,
) -> None:
    older = [
        {**each, "plans": ["new-syringe"]} if each["id"] == "part-used-seated" else each
        for each in standing(stopped, STEPS)["steps"]
    ]
    approves_it(stopped, proposed(stopped, "older", what=STEPS, steps=older))
    runs_again(stopped, same())

    asked = {step.id for step in stopped.state().plan.steps}  # type: ignore[union-attr]  # it has steps
    assert "syringe-seated" in asked
    assert "part-used-seated" not in asked


def test_the_one_that_was_on_and_was_wasted_before_it_ran_again_is_not_on_any_more(stopped: Ward) -> None:
    """Put on again it was found cracked; the check was given up once it was wasted."""
    set_up_at(stopped).both_read(same()).compares()
    stopped.reads_again(NADIA, "label").both_read(new()).compares()
    rest = {"in_syringe": "19.6 mL", "in_line": "0 mL"}
    assert isinstance(stopped.taking_back(NADIA, given=rest), taking_back.Written)
    stopped.abandons()

    (only,) = volumes(stopped)
    assert (only["delivered_by_device"], only["wasted"], only["left"]) == ("8", "19.6", "0")
    infusion = stopped.state().check.infusion
    with stopped.site.store.read() as reader:
        assert account_of(reader, infusion).on == ""
    # What stands there now has nothing in it, and that is well.
    runs_again(stopped, new(left="none"))
    assert infusion_of(stopped).left_open is None
    assert [each["left"] for each in volumes(stopped)] == ["0", "27.6"]


def test_what_is_read_again_after_a_syringe_was_replaced_was_read_of_totals_before(stopped: Ward) -> None:
    set_up_at(stopped).both_read(new()).compares()
    stopped.reads_again(NADIA, "label").both_read(new()).compares().takes_back()
    stopped.reads_again(NADIA, "device").both_read(new()).compares()

    assert stopped.state().findings == ()


def ran_unread(ward: Ward) -> Ward:
    """It had to start, and was stopped before two had read it."""
    ward.starts_without_check(bed="1")
    ward.wait(timedelta(hours=2)).stops_at("1").wait(timedelta(minutes=10))
    return ward.opens(bed="1").joins()


@pytest.mark.parametrize("then", [new(), same()], ids=["a new one", "the one that ran"])
def test_what_ran_unread_is_found_still_once_a_syringe_was_replaced(ward: Ward, then: Answers) -> None:
    ran_unread(ward).both_read(new()).compares()
    ward.reads_again(NADIA, "label").both_read(then).compares().takes_back()
    # The one that was replaced is in the account by now, and is none that could be put on.
    ward.reads_again(NADIA, "label").both_read(then).compares()
    assert [each.code for each in ward.state().open_account] == ["ran-unread"]
    ward.confirms_all().both_sign().both_look().starts()

    replaced, *_, runs = volumes(ward)
    assert (replaced["wasted"], replaced["left"]) == ("30", "0")
    assert runs["left"] == ("17.2" if then == same() else "27.6")


@pytest.mark.parametrize("read", [new(), same(left="21 mL")], ids=["a new one", "the one in hand"])
def test_what_had_to_start_after_its_syringe_was_kept_is_signed_as_open(ward: Ward, read: Answers) -> None:
    keeps(ward.at_stage(Phase.STARTED).wait(timedelta(hours=1)))
    does(ward, emergencies.release_evidence, QUILL)
    bed = ward.state().check.bed
    ward.starts_without_check(bed=bed).wait(timedelta(hours=2)).stops_at(bed).wait(timedelta(minutes=10))
    possible = {"total_amount": "1.2 mg", "presses": "6", "doses": "6"}
    set_up_at(ward).both_read(changed(read, totals=possible)).compares()

    assert "ran-unread" in {each.code for each in ward.state().open_account}
    ward.confirms_all().both_sign().both_look().starts()
    assert infusion_of(ward).left_open is not None
    volumes(ward)


def test_one_that_was_issued_and_ran_unread_is_out_no_more_once_it_is_put_on_again(ward: Ward) -> None:
    given = issuing_syringes.Given(
        source="pharmacy", giver="Petra", receiver="Nadia", number="LOT-7", volume="30 mL", sealed="yes"
    )
    issuing_syringes.note_issued(ward.site, ward.act(NADIA), unit=WARD, bed="1", given=given)
    ran_unread(ward).both_read(same()).compares().confirms_all().both_sign().both_look().starts()

    infusion = ward.state().check.infusion
    with ward.site.store.read() as reader:
        assert [each.settled for each in issued_in(reader.course(infusion))] == [IssueSettled.PUT_ON]
    (only,) = volumes(ward)
    assert only["left"] == "17.2"
