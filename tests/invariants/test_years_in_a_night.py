"""One run over a store of many records: killed, with clocks that jump, upgraded, and tampered with.

At its end every act that was acknowledged is there, all invariants hold, and every tampering is named. What
happens is drawn by one number; a run does a few of each, `poe long` all of it over 50 records.
"""

import json
import random  # noqa: TID251  # the same lot on every run, which is nobody's secret
import shutil
import sqlite3
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import closing
from dataclasses import dataclass, field, replace
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest

from app.auditing.invariants import check_invariants
from app.auditing.verifying_store import Wanted, verify_store
from app.config import root
from app.records.canonical import digest
from app.records.state import Phase
from app.records.store_verification import Failing, Noted, Step
from app.storage import migrate, open_store
from app.workflow.flat_rows import make_rows
from app.workflow.sweeping import sweep_once
from tests.bench.many_records import Copier
from tests.factories.site_keys import site_keys
from tests.invariants.acting_apart import NightWard
from tests.invariants.test_verifying_columns import REFUSED, change_one, excuse
from tests.invariants.twins import EVERY, opened
from tests.story.script import perform
from tests.story.ward import Ward, open_ward
from tests.story.whole_life import signed_now
from tests.support.sampling import examples

RECORDS = examples(sample=5, whole=50)
KILLS = examples(sample=2, whole=20)
FLIPS = examples(sample=5, whole=200)
SEED = 20310502

pytestmark = pytest.mark.timeout(1800)

Rows = dict[str, list[tuple[Any, ...]]]


@dataclass(kw_only=True)
class Night:
    """The store, its ward, and what was acknowledged: positions of the log with the digests of entries."""

    ward: Ward
    file: Path
    lot: random.Random
    acknowledged: dict[int, str] = field(default_factory=dict)

    def remember(self) -> None:
        """Whatever the log has now was acknowledged."""
        with self.ward.site.store.read() as reader:
            leaves = reader.leaves(after=0, up_to=reader.head())
            self.acknowledged |= {place: digest(each) for place, each in enumerate(leaves, start=1)}

    def holds(self) -> None:
        """Everything that was acknowledged is there, and nothing else is wrong."""
        with self.ward.site.store.read() as reader:
            there = dict(
                enumerate((digest(each) for each in reader.leaves(after=0, up_to=reader.head())), start=1)
            )
        assert {place: there.get(place) for place in self.acknowledged} == self.acknowledged
        assert check_invariants(self.ward.site, self.ward.now) == ()
        assert [each for each in self.verified() if isinstance(each, Failing)] == []

    def verified(self) -> list[Step]:
        steps = verify_store(self.ward.site, self.ward.now, Wanted(pages=False))
        assert isinstance(steps, Iterator)
        return list(steps)

    def sweeps(self) -> None:
        """What a crash left is finished once its lease has run out."""
        self.ward.wait(timedelta(minutes=5))
        swept = sweep_once(self.ward.site, self.ward.now, holder=f"sweeper {self.ward.now}")
        assert swept is not None
        assert swept.failed == ()

    def next_bed(self) -> int:
        with self.ward.site.store.read() as reader:
            return max(int(row["bed"]) for row in reader.rows("infusion"))


def test_nothing_acknowledged_is_lost_and_nothing_tampered_goes_unnamed(sqlite_url: str) -> None:
    with open_ward(sqlite_url) as made:
        ward = NightWard(made.site, sqlite_url)
        file = Path(sqlite_url.removeprefix("sqlite:///"))
        night = Night(ward=ward, file=file, lot=random.Random(SEED))  # noqa: S311  # as above
        fill(night)
        for number in range(KILLS):
            kill(night)
            jump(night, number)
            night.sweeps()
            night.holds()
        assert any(isinstance(each, Noted) for each in night.verified())
        upgrade(night, sqlite_url)
        night.holds()
        tamper(night)


def fill(night: Night) -> None:
    """Records with real signatures and seals; one is really made, and the others are copies of it."""
    copier = Copier(night.ward)
    for number in range(RECORDS):
        copier.copy(number)
    for number in range(RECORDS):
        copier.issue(number)
    assert [each for each in make_rows(night.ward.site, night.ward.now) if not each.is_right] == []
    night.remember()
    night.holds()


def kill(night: Night) -> None:
    """Two nurses in a process that is killed somewhere in an act."""
    before = len(night.acknowledged)
    words = [sqlite_of(night), str(site_keys()), night.ward.now.isoformat(), str(night.next_bed())]
    with subprocess.Popen(  # our own program
        [sys.executable, "-m", "tests.invariants.acting_apart", *words],
        stdout=subprocess.PIPE,
        cwd=root(),
        text=True,
    ) as process:
        assert process.stdout is not None
        for _ in range(night.lot.randrange(1, 40)):
            note(night, process.stdout.readline())
        # Somewhere within the next act: it takes about so long.
        time.sleep(night.lot.random() / 20)
        process.kill()
        for line in process.stdout:
            # The last may be half a line: nobody was told by it.
            if line.endswith("\n"):
                note(night, line)
    assert len(night.acknowledged) > before
    night.ward.wait(timedelta(hours=1))


def note(night: Night, line: str) -> None:
    place, said = json.loads(line)
    night.acknowledged[place] = said


def sqlite_of(night: Night) -> str:
    return f"sqlite:///{night.file}"


def jump(night: Night, number: int) -> None:
    """The clock is put ahead by a day, or back by some hours, and people go on working."""
    ward = night.ward
    ward.now += timedelta(days=1) if number % 2 else -timedelta(hours=night.lot.randrange(2, 6))
    ward.bed = night.next_bed()
    ward._ids = ward.bed * 1_000_000 + 500_000  # noqa: SLF001  # none of another process
    ward._signed_in.clear()  # noqa: SLF001  # everybody signs in anew
    perform(ward, night.lot.choice((Phase.READING, Phase.STEPS, Phase.STARTED)))
    night.remember()


def upgrade(night: Night, address: str) -> None:
    """Migrated twice, by an operator who is not sure: every row is there as it was."""
    before = rows(night.file)
    for _ in range(2):
        migrate(address)
        assert rows(night.file) == before


def rows(file: Path) -> Rows:
    with closing(opened(file)) as connection:
        return {
            name: sorted(connection.execute(f'SELECT * FROM "{name}"').fetchall(), key=repr)  # noqa: S608  # of the schema
            for name in EVERY
        }


def tamper(night: Night) -> None:
    """One value of one row of any table, each by itself in a copy."""
    outside, folder = signed_now(night.ward), night.file.parent
    plain, place = folder / "plain.sqlite3", folder / "twin.sqlite3"
    with closing(opened(night.file)) as connection, closing(sqlite3.connect(plain)) as copy:
        connection.backup(copy)
        for (name,) in copy.execute("SELECT name FROM sqlite_master WHERE type = 'trigger'").fetchall():
            copy.execute(f'DROP TRIGGER "{name}"')
        copy.commit()
    columns = [(table, column.name) for table, each in EVERY.items() for column in each.columns]
    changed = 0
    while changed < FLIPS:
        table, name = night.lot.choice(columns)
        for left in folder.glob(f"{place.name}*"):
            left.unlink()
        shutil.copyfile(plain, place)
        found = change_one(place, EVERY[table], name, past=night.lot.randrange(8))
        if found is None or found is REFUSED:
            continue
        changed += 1
        with closing(open_store(f"sqlite:///{place}")) as store:
            site = replace(night.ward.site, store=store)
            steps = verify_store(site, night.ward.now, Wanted(pages=False, checkpoint=outside))
            assert isinstance(steps, Iterator)
            failing = [each for each in steps if isinstance(each, Failing)]
        assert bool(failing) is not bool(excuse(f"{table}.{name}")), (table, name)
