"""What lists say of what runs: overdue, syringe low; to whoever reads there no more than its state."""

from datetime import timedelta

import pytest

from app.records.due import Due, DueThing
from app.records.kept import KeptComparison
from app.records.ranking import Standing
from app.records.state import Phase
from app.site import lasting as lasting_module
from app.storage import Reader
from app.workflow import changing, pausing
from app.workflow.listing import Running, unit_list
from tests.factories.answers import answers, changed
from tests.story.people import IMOGEN, NADIA, RUTH, TOMAS, Somebody
from tests.story.ward import Ward
from tests.support.policies import publish_policy
from tests.support.walking import asked

# The seeded site uses a syringe for 24 h, and pharmacy has 4 h.
UNTIL_LOW = timedelta(hours=20)


def lines(ward: Ward, who: Somebody) -> tuple[Running, ...]:
    return unit_list(ward.site, ward.act(who)).running


def line(ward: Ward, who: Somebody) -> Running:
    (running,) = lines(ward, who)
    return running


def test_a_syringe_is_low_once_it_is_time_to_ask_for_the_next_one(one_ward: Ward) -> None:
    one_ward.at_stage(Phase.STARTED)
    assert line(one_ward, IMOGEN).standing is Standing.RUNNING

    one_ward.wait(UNTIL_LOW)
    for who in (IMOGEN, RUTH):
        assert line(one_ward, who).standing is Standing.SYRINGE_LOW


def test_the_life_of_a_syringe_is_the_sites_own(one_ward: Ward) -> None:
    publish_policy(one_ward.site, one_ward.now, syringe_in_use_hours=48)
    one_ward.wait(timedelta(seconds=1)).at_stage(Phase.STARTED)
    one_ward.wait(UNTIL_LOW)
    assert line(one_ward, IMOGEN).standing is Standing.RUNNING


def test_past_its_use_by_it_is_low_too(one_ward: Ward) -> None:
    """It may be used to the end of the day, where the site is: 22:59 UTC; pharmacy has four hours."""
    read = changed(answers(), label={"use_by": "2031-05-02"})
    one_ward.opens().joins().both_read(read).compares().confirms_all().both_sign().both_look().starts()
    one_ward.wait(one_ward.now.replace(hour=18, minute=58) - one_ward.now)
    assert line(one_ward, IMOGEN).standing is Standing.RUNNING

    one_ward.wait(timedelta(minutes=1))
    assert line(one_ward, IMOGEN).standing is Standing.SYRINGE_LOW


def test_a_line_that_is_paused_for_too_long_stands_in_its_own_place_and_what_is_due_is_told(
    one_ward: Ward,
) -> None:
    infusion = one_ward.at_stage(Phase.STARTED).state().check.infusion
    paused = pausing.pause_line(one_ward.site, one_ward.act(NADIA), infusion, why="walk")
    assert isinstance(paused, pausing.Paused)
    until = one_ward.now + timedelta(minutes=30)

    for later, overdue in ((timedelta(0), False), (timedelta(minutes=31), True)):
        one_ward.wait(later)
        told = line(one_ward, IMOGEN)
        assert told.standing is Standing.PAUSED
        assert told.due == (Due(what=DueThing.LINE, at=until, overdue=overdue),)


def test_what_should_have_been_done_is_overdue_and_stands_before_what_runs(one_ward: Ward) -> None:
    infusion = one_ward.at_stage(Phase.STARTED).state().check.infusion
    one_ward.at_stage(Phase.STARTED)
    lowered = changing.note_lowered(one_ward.site, one_ward.act(NADIA), infusion, why="sedation")
    assert isinstance(lowered, changing.Lowered)
    one_ward.wait(timedelta(minutes=59))
    assert [each.standing for each in lines(one_ward, IMOGEN)] == [Standing.RUNNING, Standing.RUNNING]

    one_ward.wait(timedelta(minutes=2))
    first, second = lines(one_ward, IMOGEN)
    assert (first.infusion, first.standing, second.standing) == (infusion, Standing.OVERDUE, Standing.RUNNING)
    assert first.due == (Due(what=DueThing.LOWERED, at=lowered.due_at, overdue=True),)


def test_whoever_reads_there_is_told_its_state_alone_in_the_place_of_its_state(one_ward: Ward) -> None:
    one_ward.at_stage(Phase.STARTED)
    one_ward.wait(UNTIL_LOW).re_checks()
    for who in (NADIA, TOMAS):
        told = line(one_ward, who)
        assert (told.standing, told.due) == (Standing.RUNNING, ())
    assert line(one_ward, IMOGEN).standing is Standing.SYRINGE_LOW

    one_ward.reads(NADIA)
    assert line(one_ward, NADIA).standing is Standing.RUNNING
    one_ward.reads(TOMAS).compares()
    assert {line(one_ward, who).standing for who in (NADIA, TOMAS)} == {Standing.SYRINGE_LOW}


def test_nothing_is_worked_out_for_whoever_reads_there(
    one_ward: Ward, monkeypatch: pytest.MonkeyPatch
) -> None:
    """So that no clock tells what the account holds."""
    one_ward.at_stage(Phase.STARTED).re_checks()
    asked: list[list[str]] = []
    plain = lasting_module._course  # noqa: SLF001  # what an account is read from

    def watching(reader: Reader, infusion: str, closed: set[str]) -> object:
        asked.append([infusion])
        return plain(reader, infusion, closed)

    monkeypatch.setattr(lasting_module, "_course", watching)
    line(one_ward, NADIA)
    assert asked == []
    line(one_ward, IMOGEN)
    assert len(asked) == 1


def test_it_is_worked_out_once_and_again_after_the_next_reading(
    one_ward: Ward, monkeypatch: pytest.MonkeyPatch
) -> None:
    one_ward.at_stage(Phase.STARTED)
    worked = []
    plain = lasting_module.read_account_of

    def counting(*given: object) -> object:
        worked.append(given)
        return plain(*given)  # type: ignore[arg-type]  # as given

    monkeypatch.setattr(lasting_module, "read_account_of", counting)
    for _ in range(3):
        line(one_ward, IMOGEN)
    assert len(worked) == 1

    one_ward.re_checks().both_read().compares().both_sign()
    for _ in range(3):
        line(one_ward, IMOGEN)
    assert len(worked) == 2


def test_a_row_that_cannot_be_read_does_not_take_the_list_away(
    one_ward: Ward, monkeypatch: pytest.MonkeyPatch
) -> None:
    one_ward.at_stage(Phase.STARTED)
    one_ward.wait(UNTIL_LOW)

    def damaged(_: KeptComparison) -> object:
        raise ValueError

    with monkeypatch.context() as patched:
        patched.setattr(KeptComparison, "opened", property(damaged))
        assert line(one_ward, IMOGEN).standing is Standing.RUNNING
    # And what was damaged then is not remembered.
    assert line(one_ward, IMOGEN).standing is Standing.SYRINGE_LOW


def statements(ward: Ward) -> int:
    with asked() as given:
        unit_list(ward.site, ward.act(RUTH))
    return len(given.statements)


def test_the_list_asks_once_for_all_syringes_that_were_not_worked_out_before_and_then_never(
    one_ward: Ward,
) -> None:
    """However many run: one statement more, the first time that anybody looks."""
    one_ward.at_stage(Phase.OPENED)
    statements(one_ward)
    one_ward.at_stage(Phase.OPENED)
    # The questions of the list are asked again of what has happened since.
    something_happened, nothing_runs = statements(one_ward), statements(one_ward)
    took = []
    for _ in range(2):
        for _ in range(2):
            one_ward.at_stage(Phase.STARTED)
        took.append([statements(one_ward) - nothing_runs for _ in range(3)])
    first, *later = took[0]
    assert took[1] == took[0]
    assert later == [later[0]] * 2
    assert first - later[0] == 1 + something_happened - nothing_runs
