"""Proposed rules are tried on the checks that have ended: in counts, and never on one that is open."""

import subprocess
from datetime import timedelta
from unittest.mock import Mock

import pytest

from app.records.rules import LIBRARY
from app.records.state import Phase
from app.workflow.export_apart import ONE_THREAD, PASSED_ON
from app.workflow.loading import viewer_of
from app.workflow.replaying import Replay, Replayed, RuleCount, replay
from app.workflow.replaying_apart import AnotherRuns, Trial, replay_apart
from tests.story.people import PETRA
from tests.story.proposing import standing
from tests.story.ward import Ward


def narrower(ward: Ward) -> Replay:
    """The library with a hard limit that what is read in the story passes."""
    content = standing(ward, LIBRARY)
    for drug in content["drugs"].values():
        drug["limits"] = [{"field": "demand_dose", "hard_high": "0.01 mg"}]
    with ward.site.store.read() as reader:
        viewer = viewer_of(reader, ward.act(PETRA).by, PETRA.roles, ward.now)
    return Replay(what=LIBRARY, content=content, since=ward.now, viewer=viewer)


def tried(ward: Ward, asked: Replay) -> Replayed:
    with ward.site.store.read() as reader:
        return replay(reader, ward.now, asked)


def test_ended_checks_are_counted_by_rule_and_unit_and_open_ones_are_not(ward: Ward) -> None:
    ward.at_stage(Phase.STARTED)
    ward.now += timedelta(minutes=10)
    before = tried(ward, narrower(ward))
    # One more is compared, with the same numbers, and has not ended.
    ward.at_stage(Phase.AGREED)
    found = tried(ward, narrower(ward))

    assert found == before
    assert (found.checks, found.asked, found.ran_out) == (1, 1, False)
    assert (found.stopped_too, found.not_stopped) == (1, 0)
    assert (
        RuleCount(severity="stop", code="above-hard-limit", gone=0, new=1, units=(("Ward 4 East", 0, 1),))
        in found.rules
    )


def test_rules_that_are_in_force_change_nothing(one_ward: Ward) -> None:
    one_ward.at_stage(Phase.STARTED)
    asked = Replay(**{**vars(narrower(one_ward)), "content": standing(one_ward, LIBRARY)})
    found = tried(one_ward, asked)
    assert (found.checks, found.stopped_too, found.not_stopped, found.rules) == (1, 0, 0, ())


def test_it_stops_when_its_time_is_over_and_says_so(one_ward: Ward) -> None:
    one_ward.at_stage(Phase.STARTED)
    asked = narrower(one_ward)
    with one_ward.site.store.read() as reader:
        found = replay(reader, one_ward.now, asked, enough=lambda: True)
    assert (found.checks, found.asked, found.ran_out) == (0, 1, True)


def test_a_process_of_its_own_says_the_same_and_one_runs_at_a_time(
    one_ward: Ward, monkeypatch: pytest.MonkeyPatch
) -> None:
    one_ward.at_stage(Phase.STARTED)
    asked, act = narrower(one_ward), one_ward.act(PETRA)
    trial = Trial(what=asked.what, content=asked.content, since=asked.since)
    run = Mock(wraps=subprocess.run)
    monkeypatch.setattr("app.workflow.replaying_apart.subprocess.run", run)
    found = replay_apart(one_ward.site, act, PETRA.roles, trial)
    # Of what this process has around it only what a library needs to find its own files.
    assert set(run.call_args.kwargs["env"]) <= {*PASSED_ON, *ONE_THREAD}
    assert found == tried(one_ward, asked)
    with one_ward.site.store.write() as tx:
        tx.take_lease("replaying rules", "another", now=act.now, until=act.now + timedelta(minutes=1))
    again = replay_apart(one_ward.site, act, PETRA.roles, trial)
    assert again == AnotherRuns()
