"""What two nurses do in a check, told once, up to every phase of its life.

Performers do each act in a way of their own: as mere events, by the workflow, at served pages, in Chromium.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from enum import Enum
from typing import Protocol

from app.records.state import Phase


class Read(Enum):
    """What the two read; each performer has answers that come to this."""

    ALIKE = "the same, and nothing stands against it"
    APART = "the second another demand dose on the device"
    SET_OTHERWISE = "the same, and the device is set otherwise than ordered"
    TO_CONSIDER = "the same, with a caution"


class Performer(Protocol):
    """Two nurses and the check at hand."""

    def opens(self) -> object:
        """The first opens a check at a free bed, and has joined it."""

    def joins(self) -> object:
        """The second joins."""

    def both_hand_in(self, read: Read) -> object:
        """Each reads what is asked for, alone, and hands in."""

    def compares(self) -> object:
        """The site compares."""

    def asks_for_help(self) -> object:
        """The first asks a third person to look."""

    def confirms_all(self) -> object:
        """The first does, the second verifies every safety step, and each reads the primed volume."""

    def both_sign(self) -> object:
        """Each signs the record."""

    def sees_it_differ(self) -> object:
        """The second takes the last look, and the device shows something else."""

    def both_look(self) -> object:
        """Each takes the last look, and the device shows what was agreed."""

    def starts(self) -> object:
        """The infusion runs."""

    def re_checks(self) -> object:
        """The first opens a re-check of what runs, and the second joins."""

    def leads_on(self) -> object:
        """The first says that what was found is put right in a check of another kind."""

    def abandons(self) -> object:
        """The first gives the check up."""

    def at_stage(self, phase: Phase) -> object:
        """A fresh check, brought to a phase by this script."""


Act = Callable[[Performer], object]


@dataclass(frozen=True)
class Way:
    """How a phase is reached: from which one, by which acts."""

    after: Phase | None
    acts: tuple[Act, ...]


WAYS: Mapping[Phase, Way] = {
    Phase.OPENED: Way(None, (lambda they: they.opens(),)),
    Phase.READING: Way(Phase.OPENED, (lambda they: they.joins(),)),
    Phase.BOTH_HANDED_IN: Way(Phase.READING, (lambda they: they.both_hand_in(Read.ALIKE),)),
    Phase.DISPUTED: Way(
        Phase.READING, (lambda they: they.both_hand_in(Read.APART), lambda they: they.compares())
    ),
    Phase.ESCALATED: Way(Phase.DISPUTED, (lambda they: they.asks_for_help(),)),
    Phase.AGREED: Way(
        Phase.READING, (lambda they: they.both_hand_in(Read.TO_CONSIDER), lambda they: they.compares())
    ),
    Phase.STEPS: Way(Phase.BOTH_HANDED_IN, (lambda they: they.compares(),)),
    Phase.SIGNING: Way(Phase.STEPS, (lambda they: they.confirms_all(),)),
    Phase.CLEARED: Way(Phase.SIGNING, (lambda they: they.both_sign(),)),
    Phase.LAPSED: Way(Phase.CLEARED, (lambda they: they.sees_it_differ(),)),
    Phase.STARTED: Way(Phase.CLEARED, (lambda they: they.both_look(), lambda they: they.starts())),
    Phase.DONE: Way(
        Phase.STARTED,
        (
            lambda they: they.re_checks(),
            lambda they: they.both_hand_in(Read.ALIKE),
            lambda they: they.compares(),
            lambda they: they.both_sign(),
        ),
    ),
    Phase.LED: Way(
        Phase.STARTED,
        (
            lambda they: they.re_checks(),
            lambda they: they.both_hand_in(Read.SET_OTHERWISE),
            lambda they: they.compares(),
            lambda they: they.leads_on(),
        ),
    ),
    Phase.ABANDONED: Way(Phase.DISPUTED, (lambda they: they.abandons(),)),
}


def perform(performer: Performer, phase: Phase) -> None:
    """Bring a fresh check to a phase, act after act."""
    way = WAYS[phase]
    if way.after is not None:
        performer.at_stage(way.after)
    for act in way.acts:
        act(performer)


def go_on(performer: Performer, phase: Phase, *, since: Phase) -> None:
    """From a phase that the check at hand has reached on to a later one."""
    way, before = WAYS[phase], WAYS[phase].after
    if before is not None and before is not since:
        go_on(performer, before, since=since)
    for act in way.acts:
        act(performer)
