"""A check that has been loaded once: what comes of the act's own entries is folded, not read again."""

from dataclasses import replace

from app.records.events import HelpAsked
from app.records.state import Phase
from app.site.loading import load
from app.workflow import stepping
from tests.story.people import NADIA, TOMAS
from tests.story.ward import Ward


def test_the_check_after_what_is_added_is_the_check_that_is_then_stored(ward: Ward) -> None:
    ward.at_stage(Phase.STEPS)
    act, volumes = ward.act(NADIA), iter(("2.3 mL", "2.2 mL"))
    for who in (NADIA, TOMAS):
        given = stepping.Given(primed=stepping.PrimedVolume(volume=next(volumes), round=1))
        before = ward.loaded()
        stepping.take_steps(ward.site, ward.act(who), ward.check, given)
        after = ward.loaded()
        entries = after.entries[len(before.entries) :]
        compared = [each for each in after.comparisons if each not in before.comparisons]

        assert before.after(entries, compared).state == replace(after.state, now=before.state.now)
        assert before.after(entries, compared).comparisons == after.comparisons

    with ward.site.store.write() as tx:
        loaded = load(tx, ward.check, act.now)
        assert loaded is not None
        tx.append(HelpAsked(help=act.new_id(), why="other", text=""), act=act, check=ward.check)
        assert loaded.after(tx.appended) == load(tx, ward.check, act.now)
