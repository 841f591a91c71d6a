"""A random sample of ended checks: the same for whoever draws it, whatever has ended since."""

from datetime import date, timedelta

import pytest
from click.testing import CliRunner

from app.cli import main
from app.cli import sample as command
from app.config import Settings
from app.records.sample_events import SampleDrawn
from app.records.state import Phase
from app.site.installation import Site
from app.workflow.refusals import NotAllowed
from app.workflow.sampling import (
    Drawn,
    Kept,
    NothingEnded,
    NotOver,
    Plan,
    WrongSpan,
    draw_sample,
    drawn_again,
)
from tests.story.people import IMOGEN, QUILL, RUTH, Somebody
from tests.story.ward import BEGAN, Ward
from tests.support.together import together

DAY = BEGAN.date()
PLAN = Plan(seed="may", first=DAY, last=DAY, each=2)


def lived(ward: Ward) -> Ward:
    """Three checks that ended on a day which is over, and one that goes on."""
    for _ in range(3):
        ward.at_stage(Phase.ABANDONED)
    ward.at_stage(Phase.READING)
    return ward.wait(timedelta(days=1))


def drawn(ward: Ward, plan: Plan = PLAN) -> Drawn:
    with ward.site.store.read() as reader:
        made = drawn_again(reader, ward.now, plan)
    assert isinstance(made, Drawn)
    return made


def test_it_is_drawn_of_what_ended_and_the_same_though_more_has_ended_since(ward: Ward) -> None:
    before = drawn(lived(ward))
    assert [(unit, len(rows)) for unit, rows in before.units.items()] == [("ward-4-east", 2)]
    assert before.sizes == {"ward-4-east": 3}
    assert all(each.how == "abandoned" for rows in before.units.values() for each in rows)

    ward.at_stage(Phase.ABANDONED)
    assert drawn(ward) == before


def test_the_log_tells_seed_days_how_many_of_how_many_and_a_digest(one_ward: Ward) -> None:
    kept = draw_sample(lived(one_ward).site, one_ward.act(QUILL), QUILL.roles, PLAN)
    assert isinstance(kept, Kept)
    with one_ward.site.store.read() as reader:
        (entry,) = reader.entries_of_kind(SampleDrawn.kind)
    assert entry.event == SampleDrawn(
        sample=kept.sample,
        seed="may",
        from_date="2031-05-02",
        to_date="2031-05-02",
        each=2,
        strata=("ward-4-east 2/3",),
        digest=drawn(one_ward).digest,
    )
    # Drawn by the same plan again it is that one.
    assert draw_sample(one_ward.site, one_ward.act(QUILL), QUILL.roles, PLAN) == kept
    with one_ward.site.store.read() as reader:
        assert len(reader.entries_of_kind(SampleDrawn.kind)) == 1


def test_however_many_draw_by_one_plan_at_the_same_instant_it_is_one_sample(ward: Ward) -> None:
    acts = [lived(ward).act(QUILL) for _ in range(6)]

    kept = together(*(lambda act=act: draw_sample(ward.site, act, QUILL.roles, PLAN) for act in acts))

    assert len(set(kept)) == 1
    with ward.site.store.read() as reader:
        assert len(reader.entries_of_kind(SampleDrawn.kind)) == 1


@pytest.mark.parametrize(
    ("first", "last", "says"),
    [
        (DAY, DAY + timedelta(days=1), NotOver()),
        (DAY, DAY - timedelta(days=1), WrongSpan()),
        (date(2031, 4, 1), date(2031, 4, 2), NothingEnded()),
    ],
)
def test_only_days_that_are_over_and_had_ended_checks_are_drawn_from(
    one_ward: Ward, first: date, last: date, says: object
) -> None:
    plan = Plan(seed="may", first=first, last=last, each=2)
    assert draw_sample(lived(one_ward).site, one_ward.act(QUILL), QUILL.roles, plan) == says
    with one_ward.site.store.read() as reader:
        assert reader.entries_of_kind(SampleDrawn.kind) == ()


@pytest.mark.parametrize("who", [IMOGEN, RUTH], ids=["nurse", "charge nurse"])
def test_it_is_drawn_by_quality_and_pharmacists(one_ward: Ward, who: Somebody) -> None:
    assert draw_sample(one_ward.site, one_ward.act(who), who.roles, PLAN) == NotAllowed()


def test_the_command_draws_the_same_and_writes_nothing(
    one_ward: Ward, monkeypatch: pytest.MonkeyPatch
) -> None:
    lived(one_ward)

    def opened(_settings: Settings) -> Site:
        return one_ward.site

    monkeypatch.setattr(command, "open_site", opened)
    monkeypatch.setattr(command, "settings", lambda: None)
    monkeypatch.setattr(command, "now", lambda: one_ward.now)
    words = ["--seed", "may", "--from", "2031-05-02", "--to", "2031-05-02", "--per-unit", "2"]
    run = CliRunner().invoke(main, ["sample", *words])
    made = drawn(one_ward)
    assert run.stdout.splitlines() == [f"ward-4-east {each.check}" for each in made.units["ward-4-east"]]
    assert run.stderr == f"2 of 3 of ward-4-east; SHA-256 {made.digest}\n"
    with one_ward.site.store.read() as reader:
        assert reader.entries_of_kind(SampleDrawn.kind) == ()
