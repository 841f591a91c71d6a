"""What the samples tell of: an infusion through every kind of check, and a store with rows in every table."""

from collections.abc import Iterator
from contextlib import contextmanager
from typing import ClassVar

from sqlalchemy import Engine, event

from app.records.kinds import (
    CLEARING,
    DEVICE_CHANGE,
    HANDOFF_STANDING,
    RE_CHECK,
    SETTINGS_CHANGE,
)
from app.storage import migrate
from tests.invariants.random_infusion import Stored
from tests.story.stored_infusion import BED
from tests.story.ward import Ward, open_ward
from tests.story.whole_life import fill_every_table


class Life(Stored):
    """An infusion as it might be drawn, told in one order."""

    address: ClassVar[str]

    def is_lived(self) -> None:
        """From its set-up to its end."""
        self.loads()
        self.ward.opens(self.ward.first, bed=BED).joins(self.ward.second)
        self.is_read(self.seen(totals=False))
        self.goes_on_to_start()
        self.infusion = self.ward.state().check.infusion
        self.fills()
        self.runs()
        self.passes(40, 3)
        self.is_done(RE_CHECK)
        self.something_is_changed(SETTINGS_CHANGE)
        self.syringe_is_changed(again=False)
        self.passes(30, 2)
        self.something_is_changed(DEVICE_CHANGE)
        self.something_is_changed(CLEARING)
        self.stands_in_a_hurry("stop")
        self.is_set_up_again("a new one")
        self.is_handed_over()
        self.stands_in_a_hurry("away")
        self.ward.first, self.ward.second = self.ward.second, self.ward.first
        self.is_done(HANDOFF_STANDING)
        self.is_restarted()
        self.bolus_is_given()
        self.another_unit_takes_the_patient()
        self.comes_to_its_end()


@contextmanager
def every_kind(address: str) -> Iterator[tuple[Ward, str]]:
    """A ward on a new database in which one infusion went through every kind of check, and the infusion."""
    migrate(address)
    Life.address = address
    life = Life()
    try:
        life.is_lived()
        yield life.ward, life.infusion
    finally:
        event.remove(Engine, "before_cursor_execute", life.crashing)
        life._open.close()  # noqa: SLF001  # as where it is drawn


@contextmanager
def every_table(address: str) -> Iterator[Ward]:
    """A ward on a new database in which every table has rows, and something began without a check."""
    migrate(address)
    with open_ward(address) as ward:
        ward.starts_without_check(bed="19")
        fill_every_table(ward)
        yield ward
