"""What followed a record becomes one sealed file beside it, once its story has ended; no more changes."""

import shutil
from collections.abc import Callable
from dataclasses import replace
from datetime import timedelta
from pathlib import Path
from typing import NoReturn

import pytest

from app.auditing import recomputing
from app.auditing.checkpointing import make_checkpoint
from app.auditing.recomputing import followed_again, logged
from app.keys import SiteKeys
from app.records.events import END_OF_THERAPY
from app.records.state import Phase
from app.records.what_followed import LEFT_FOR, TO_CORRECT
from app.reports import seal
from app.site.installation import usable_site_keys
from app.storage.transaction import Transaction
from app.workflow import following
from app.workflow.following import tell_what_followed
from app.workflow.issuing import LeftAlone
from tests.factories.quick_pdf import without_rendering
from tests.factories.site_keys import site_keys
from tests.story.followed import ends, followed, sweeps
from tests.story.people import NADIA, RUTH
from tests.story.ward import Ward
from tests.support.together import together
from tests.workflow.test_taking_back import replaced


def test_it_is_told_once_however_often_it_is_asked_for(
    one_ward: Ward, monkeypatch: pytest.MonkeyPatch
) -> None:
    without_rendering(monkeypatch)
    ends(one_ward)
    assert sweeps(one_ward).told == 1
    first = followed(one_ward)

    assert sweeps(one_ward).told == 0
    assert tell_what_followed(one_ward.site, one_ward.check, 1, one_ward.wait().now) == LeftAlone()
    assert followed(one_ward) == first
    with one_ward.site.store.read() as reader:
        kinds = [each.event.kind for each in reader.entries(one_ward.check)]
    assert kinds.count("what-followed-issued") == 1


@pytest.mark.usefixtures("quick_pdf")
def test_told_twice_at_the_same_instant_it_is_stored_once(ward: Ward) -> None:
    ends(ward)
    now = ward.wait().now

    def tells() -> object:
        return tell_what_followed(ward.site, ward.check, 1, now)

    made = together(tells, tells)

    assert len(followed(ward)) == 1
    assert sorted(type(each).__name__ for each in made) == ["Issued", "LeftAlone"]


@pytest.mark.usefixtures("quick_pdf")
def test_what_is_written_down_later_makes_no_second_one(one_ward: Ward) -> None:
    ends(one_ward)
    sweeps(one_ward)
    first = followed(one_ward)

    one_ward.stops(RUTH, why="other").wait(LEFT_FOR)

    assert sweeps(one_ward).told == 0
    assert followed(one_ward) == first
    with one_ward.site.store.read() as reader:
        stored = recomputing.load_stored(
            one_ward.site, reader, one_ward.check, now=one_ward.now, log=logged(reader)
        )
        assert stored is not None
        assert followed_again(reader, stored, first[0]) == first[0].document


class Killed(BaseException):
    """The machine is gone: nothing catches this."""


def killed(*_: object, **__: object) -> NoReturn:
    raise Killed


STEPS: dict[str, Callable[[pytest.MonkeyPatch], None]] = {
    "before the places": lambda patch: patch.setattr(following, "place_of", killed),
    "while rendering": lambda patch: patch.setattr(following, "render_what_followed", killed),
    "after rendering": lambda patch: patch.setattr(seal, "seal_pdf", killed),
    "before its event": lambda patch: patch.setattr(Transaction, "append", killed),
    "before the commit": lambda patch: patch.setattr(Transaction, "to_be_committed", killed),
}


@pytest.mark.parametrize("step", STEPS)
def test_killed_between_steps_there_is_none_and_then_one(
    one_ward: Ward, step: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    without_rendering(monkeypatch)
    ends(one_ward)
    # The checkpoint's own transaction is done by then: what is killed is the last one.
    keys = usable_site_keys(one_ward.site, one_ward.now)
    assert isinstance(keys, SiteKeys)
    make_checkpoint(one_ward.site, keys, one_ward.wait().now)
    with monkeypatch.context() as patch:
        STEPS[step](patch)
        with pytest.raises(Killed):
            tell_what_followed(one_ward.site, one_ward.check, 1, one_ward.wait().now)
    assert followed(one_ward) == ()

    assert sweeps(one_ward).told == 1
    assert len(followed(one_ward)) == 1


def abandoned(ward: Ward) -> None:
    ward.at_stage(Phase.SIGNING).abandons()


def superseded(ward: Ward) -> None:
    ward.at_stage(Phase.LAPSED).reads_again(NADIA, "device")


def stopped_for_the_patient(ward: Ward) -> None:
    ward.at_stage(Phase.CLEARED).stops(RUTH, why="unsure")


def lapsed(ward: Ward) -> None:
    ward.at_stage(Phase.CLEARED).wait(LEFT_FOR)


def left_stopped(ward: Ward) -> None:
    ward.at_stage(Phase.STARTED).stops(why="line-or-site").wait(LEFT_FOR)


def put_right(ward: Ward) -> None:
    replaced(ward).confirms_all().both_sign().takes_back().wait(LEFT_FOR)


def given_up_and_put_right(ward: Ward) -> None:
    replaced(ward).confirms_all().abandons().takes_back()
    # It may be put right for a while.
    assert sweeps(ward).told == 0
    ward.wait(TO_CORRECT)


STORIES: dict[str, tuple[Callable[[Ward], object], list[str]]] = {
    "abandoned": (abandoned, ["abandoned"]),
    "superseded": (superseded, ["clearance-lapsed", "next-reading-opened"]),
    "stopped for the patient": (stopped_for_the_patient, ["device-stopped"]),
    "lapsed": (lapsed, ["signed", "clearance-lapsed"]),
    "put right": (put_right, ["drug-taken-back", "drug-taken-back", "clearance-lapsed"]),
    "given up and put right": (given_up_and_put_right, ["abandoned", "drug-taken-back", "drug-taken-back"]),
    "left stopped": (left_stopped, ["started", "device-stopped"]),
}


@pytest.mark.usefixtures("quick_pdf")
@pytest.mark.parametrize("story", STORIES)
def test_each_story_is_told_to_its_end_and_is_what_is_stored(ward: Ward, story: str) -> None:
    happens, last = STORIES[story]
    happens(ward)

    sweeps(ward)

    (kept,) = followed(ward)
    kinds = [each["kind"] for each in kept.told["entries"] if each["kind"] != "record-issued"]
    assert kinds[-len(last) :] == last
    with ward.site.store.read() as reader:
        stored = recomputing.load_stored(ward.site, reader, ward.check, now=ward.now, log=logged(reader))
        assert stored is not None
        assert followed_again(reader, stored, kept) == kept.document


@pytest.mark.usefixtures("quick_pdf")
@pytest.mark.parametrize("phase", [Phase.STEPS, Phase.SIGNING, Phase.CLEARED, Phase.LAPSED, Phase.STARTED])
def test_while_the_story_goes_on_nothing_is_told(one_ward: Ward, phase: Phase) -> None:
    one_ward.at_stage(phase)

    assert sweeps(one_ward).told == 0
    assert followed(one_ward) == ()


def cleared(ward: Ward) -> None:
    ward.at_stage(Phase.CLEARED)


def given_up_with_what_was_taken_back(ward: Ward) -> None:
    replaced(ward).confirms_all().abandons()


@pytest.mark.usefixtures("quick_pdf")
@pytest.mark.parametrize(
    ("happens", "due_after"),
    [(cleared, LEFT_FOR), (given_up_with_what_was_taken_back, TO_CORRECT)],
    ids=["lapsed", "given up"],
)
def test_a_sweep_finds_what_is_due_by_time_though_nothing_was_written_since(
    one_ward: Ward, happens: Callable[[Ward], None], due_after: timedelta
) -> None:
    happens(one_ward)
    last = sweeps(one_ward)
    for before in (due_after - timedelta(minutes=3), timedelta(0)):
        one_ward.wait(before)
        last = sweeps(one_ward, last=last)
    assert followed(one_ward) == ()

    one_ward.wait(timedelta(minutes=3))

    assert sweeps(one_ward, last=last).told == 1


@pytest.mark.usefixtures("quick_pdf")
@pytest.mark.parametrize("slept", [timedelta(hours=1), timedelta(days=3)])
def test_a_machine_that_slept_past_its_hour_tells_it_all_the_same(one_ward: Ward, slept: timedelta) -> None:
    cleared(one_ward)
    last = sweeps(one_ward)
    # By a clock that is put back for a while, too.
    one_ward.wait(-timedelta(minutes=10))
    last = sweeps(one_ward, last=last)
    one_ward.wait(LEFT_FOR + slept)
    last = sweeps(one_ward, last=last)
    assert last.told == 1
    assert last.settled_at == one_ward.now
    assert sweeps(one_ward.wait(slept), last=last).told == 0


def test_what_ran_out_before_the_last_sweep_is_not_looked_at_again(one_ward: Ward) -> None:
    cleared(one_ward)
    one_ward.wait(LEFT_FOR)
    with one_ward.site.store.read() as reader:
        head, now = reader.head(), one_ward.now
        assert len(reader.untold(now, after=head, since=now - LEFT_FOR)) == 1
        assert reader.untold(now + LEFT_FOR, after=head, since=now + timedelta(minutes=5)) == ()


@pytest.mark.usefixtures("quick_pdf")
def test_what_was_taken_back_put_right_before_signing_ends_an_edition_at_once(one_ward: Ward) -> None:
    replaced(one_ward).confirms_all()
    last = sweeps(one_ward)

    assert sweeps(one_ward.takes_back(), last=last).told == 1

    (kept,) = followed(one_ward)
    assert kept.told["ended"]["how"] == "superseded"
    assert kept.told["entries"][-1]["witness"] == "Imogen Bexley"


def test_what_could_not_be_told_is_looked_for_everywhere_once_more(
    one_ward: Ward, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    without_rendering(monkeypatch)
    one_ward.at_stage(Phase.STARTED)
    last = sweeps(one_ward)
    one_ward.stops(why=END_OF_THERAPY).wait(TO_CORRECT)
    whole = one_ward.site
    copy = Path(shutil.copytree(site_keys(), tmp_path / "keys"))
    for each in copy.glob("seal-*.key"):
        each.unlink()
    one_ward.site = replace(whole, site_keys=copy)

    swept = sweeps(one_ward, last=last)

    assert (swept.told, swept.settled, swept.settled_at) == (0, 0, None)
    assert "there is no seal key" in swept.why
    one_ward.site = whole
    assert sweeps(one_ward.wait(LEFT_FOR), last=swept).told == 1
