"""The sweeper signs the log at each shift change, daily at least, and after an issue; a cut tail shows."""

import shutil
from dataclasses import replace
from datetime import timedelta
from pathlib import Path

import pytest
from sqlalchemy import text

from app.auditing import keeping_checkpoints
from app.records.checkpoint import Checkpoint
from app.records.events import AccountChanged, RecordIssued
from app.records.state import Phase
from app.workflow.sweeping import Swept, sweep_once
from tests.factories.quick_pdf import without_rendering
from tests.factories.site_keys import site_keys
from tests.story.ward import BEGAN, Ward, open_ward
from tests.support.tampering import as_database_administrator

# BEGAN is 13:10 in the ward's zone, between the shift changes at 07:00 and at 19:00.
BEFORE_THE_CHANGE = BEGAN.replace(hour=17, minute=59)
AFTER_THE_CHANGE = BEGAN.replace(hour=18, minute=0)
NOTHING = Swept(compared=0, issued=0)


def sweeps(ward: Ward) -> Swept | None:
    return sweep_once(ward.site, ward.wait().now, holder="one")


def kept(ward: Ward) -> tuple[Checkpoint, ...]:
    with ward.site.store.read() as reader:
        return reader.checkpoints()


def happens(ward: Ward) -> None:
    with ward.site.store.write() as tx:
        tx.append(AccountChanged(person="nadia", what="closed"), at=ward.now)


def size(ward: Ward) -> int:
    with ward.site.store.read() as reader:
        return reader.head()


def test_the_log_is_signed_whole_at_the_first_sweep_and_then_at_each_shift_change(ward: Ward) -> None:
    assert sweeps(ward) == NOTHING
    (first,) = kept(ward)
    assert first.size == size(ward)

    happens(ward)
    ward.now = BEFORE_THE_CHANGE - timedelta(minutes=1)
    assert sweeps(ward) == NOTHING
    assert kept(ward) == (first,)

    ward.now = AFTER_THE_CHANGE
    assert sweeps(ward) == NOTHING
    assert [each.size for each in kept(ward)] == [first.size, size(ward)]
    happens(ward)
    assert sweeps(ward) == NOTHING
    assert len(kept(ward)) == 2


def test_on_a_day_on_which_nobody_did_anything_there_is_one_too(one_ward: Ward) -> None:
    sweeps(one_ward)
    for day in range(1, 4):
        one_ward.now = BEGAN + timedelta(days=day)
        assert sweeps(one_ward) == NOTHING
        assert kept(one_ward)[-1].at == one_ward.now
    assert len(kept(one_ward)) == 4


def test_after_an_issue_the_newest_checkpoint_covers_it(
    one_ward: Ward, monkeypatch: pytest.MonkeyPatch
) -> None:
    without_rendering(monkeypatch)
    sweeps(one_ward)
    one_ward.at_stage(Phase.CLEARED)
    assert sweeps(one_ward) == Swept(compared=0, issued=1)

    with one_ward.site.store.read() as reader:
        issued = reader.find_latest(RecordIssued.kind)
    assert issued is not None
    assert kept(one_ward)[-1].size >= issued.position


def test_when_nothing_happened_nothing_is_read(one_ward: Ward, monkeypatch: pytest.MonkeyPatch) -> None:
    sweeps(one_ward)
    monkeypatch.delattr(keeping_checkpoints, "make_checkpoint")
    monkeypatch.delattr(keeping_checkpoints, "place_of")
    one_ward.now = AFTER_THE_CHANGE
    assert sweeps(one_ward) == NOTHING


def test_without_its_key_the_log_is_not_signed_and_the_sweep_says_so(one_ward: Ward, tmp_path: Path) -> None:
    copy = Path(shutil.copytree(site_keys(), tmp_path / "keys"))
    for each in copy.glob("checkpoint-*.key"):
        each.unlink()
    one_ward.site = replace(one_ward.site, site_keys=copy)

    swept = sweeps(one_ward)
    assert swept is not None
    assert "the log could not be signed: COUNTERSIGN_SITE_KEYS: there is no checkpoint key" in swept.left
    assert kept(one_ward) == ()


@pytest.mark.parametrize("newer", [0, 3], ids=["the end", "the end, and others since"])
def test_a_tail_that_was_cut_off_shows(database_url: str, newer: int) -> None:
    with open_ward(database_url) as ward:
        ward.at_stage(Phase.STEPS)
        sweeps(ward)
        (signed,) = kept(ward)
        with as_database_administrator(database_url) as connection:
            connection.execute(
                text("DELETE FROM log_entry WHERE position > :left"), {"left": signed.size - 2}
            )
            connection.execute(text("UPDATE log_head SET size = :left"), {"left": signed.size - 2})
        for _ in range(newer):
            happens(ward)
        ward.now = AFTER_THE_CHANGE

        swept = sweeps(ward)
        assert swept is not None
        assert f"not what was signed when it had {signed.size} entries" in swept.left
        assert kept(ward) == (signed,)
