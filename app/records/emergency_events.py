"""What is done for a patient in a hurry, and what follows it; what is saved first holds no value.

Each is saved by one tap. What is told afterwards, in people's own words, is an entry of its own and closed to
whoever reads blind at that bed.
"""

from dataclasses import dataclass
from typing import ClassVar

from app.records.events import Event


@dataclass(frozen=True, kw_only=True)
class ReversalGiven(Event):
    """A dose of a reversal agent was given for sedation or breathing: the infusion is held.

    `note` is the number of the stop that was written with it, as it is below.
    """

    kind: ClassVar[str] = "reversal-given"
    note: str


@dataclass(frozen=True, kw_only=True)
class ItchTreated(Event):
    """A small dose of a reversal agent was given for itch: nothing is held."""

    kind: ClassVar[str] = "itch-treated"


@dataclass(frozen=True, kw_only=True)
class RestartDecided(Event):
    """A prescriber decided that a held infusion may be set anew and restarted; `hold` is its first dose."""

    kind: ClassVar[str] = "restart-decided"
    hold: str
    prescriber: str


@dataclass(frozen=True, kw_only=True)
class HarmSuspected(Event):
    """Overdose or death (`what`) is suspected: device, line and syringe are kept as they are."""

    kind: ClassVar[str] = "harm-suspected"
    note: str
    what: str


@dataclass(frozen=True, kw_only=True)
class EvidenceKept(Event):
    """Device and syringe are locked and sealed; `harm` is the entry for which.

    Each answer is as a reading has it, `none` where it does not show. A blank one was not said: what was said
    of it before stands. `to_confirm`: whoever holds it says so by the own sign-in; of an entry that asks for
    none the written name of a holder is enough.
    """

    kind: ClassVar[str] = "evidence-kept"
    harm: str
    seal: str = ""
    holder: str = ""
    place: str = ""
    total_amount: str = ""
    total_volume: str = ""
    presses: str = ""
    doses: str = ""
    left: str = ""
    to_confirm: bool = False


@dataclass(frozen=True, kw_only=True)
class EvidenceReceived(Event):
    """Whoever writes this holds what is kept, and read on it the number of the seal that was written."""

    kind: ClassVar[str] = "evidence-received"
    harm: str
    seal: str


@dataclass(frozen=True, kw_only=True)
class SealDiffered(Event):
    """Whoever writes this looked at what is kept, and read another number on its seal than was written."""

    kind: ClassVar[str] = "seal-differed"
    harm: str
    seal: str


@dataclass(frozen=True, kw_only=True)
class EvidenceReleased(Event):
    """The site's investigator gave free what was kept; `harm` likewise."""

    kind: ClassVar[str] = "evidence-released"
    harm: str


@dataclass(frozen=True, kw_only=True)
class WentAway(Event):
    """The patient went somewhere without PCA (`what`): disconnected and capped, device and syringe locked."""

    kind: ClassVar[str] = "went-away"
    note: str
    what: str


@dataclass(frozen=True, kw_only=True)
class CameBack(Event):
    """The patient is back; `away` is the entry of going. `opioids`: whether any were given meanwhile."""

    kind: ClassVar[str] = "came-back"
    away: str
    opioids: str


@dataclass(frozen=True, kw_only=True)
class KeyNotFound(Event):
    """The key or the code (`what`) that opens device or syringe is not where it must be."""

    kind: ClassVar[str] = "key-not-found"
    what: str


@dataclass(frozen=True, kw_only=True)
class LockChanged(Event):
    """Lock, key or code was changed; `missing` is the entry that said it was not found."""

    kind: ClassVar[str] = "lock-changed"
    missing: str


@dataclass(frozen=True, kw_only=True)
class DeviceDied(Event):
    """The device is dead or lost its power: the line is paused, and another device comes.

    `pause` is the entry of the pause that was written with it; empty where it stood before.
    """

    kind: ClassVar[str] = "device-died"
    pause: str = ""


@dataclass(frozen=True, kw_only=True)
class ToldAfterwards(Event):
    """What was told of such an entry (`of`) once there was time: the name of each answer, and its text."""

    kind: ClassVar[str] = "told-afterwards"
    of: str
    told: tuple[tuple[str, str], ...]
