"""What must come before an infusion is started again after an emergency, and what stands against a start."""

from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum

from app.records.emergencies import Emergencies
from app.records.infusion import InfusionState
from app.records.kinds import DEVICE_CHANGE, RE_CHECK, REPEAT_SET_UP, SETTINGS_CHANGE, End, Kind, Opens
from app.records.observing import Stage
from app.records.policy import SitePolicy
from app.records.rules import Rules


class Wants(StrEnum):
    """What an emergency leaves to be done before the infusion is started again."""

    NEW_SETTINGS = "new settings"
    ANOTHER_DEVICE = "another device"
    NEW_SET = "a new set"
    ALL_ANEW = "all of it anew"
    SYRINGE = "a syringe, and a new set"


# The kind of check that brings what an emergency leaves to be done.
BROUGHT_BY: dict[Wants, Kind] = {
    Wants.NEW_SETTINGS: SETTINGS_CHANGE,
    Wants.ANOTHER_DEVICE: DEVICE_CHANGE,
    Wants.NEW_SET: REPEAT_SET_UP,
    Wants.ALL_ANEW: REPEAT_SET_UP,
    Wants.SYRINGE: REPEAT_SET_UP,
}
# Nothing narrower brings these.
_ONLY_SO = frozenset({Wants.ALL_ANEW, Wants.SYRINGE})


class Why(StrEnum):
    """What stands against it."""

    EVIDENCE = "what is left is kept as evidence"
    DECISION = "a prescriber has to decide first"
    NOT_BACK = "the patient is away without PCA"
    OTHER_KIND = "another kind of check comes first"


@dataclass(frozen=True, kw_only=True)
class HeldBack:
    """A check may not lead to a start now; `kind` is the one that would, where another one would."""

    why: Why
    kind: str = ""


@dataclass(frozen=True, kw_only=True)
class Left:
    """What emergencies left on an infusion, looked at in one moment; `wants` must come before a start.

    `watch` is how often the patient is observed after a reversal agent, and for how long. `runs`: it had to
    start all the same, and its device shows that.
    """

    stands: Emergencies
    wants: Wants | None
    has_ended: bool
    runs: bool
    policy: SitePolicy
    watch: Stage
    now: datetime

    @property
    def runs_all_the_same(self) -> bool:
        """Whether it is held and had to start without a check."""
        return self.stands.hold is not None and self.runs


def left_on(infusion: InfusionState, rules: Rules, now: datetime) -> Left:
    """What is left on an infusion."""
    return Left(
        stands=infusion.emergencies,
        wants=wanted(infusion, rules.policy, now),
        has_ended=infusion.ended_at is not None,
        runs=infusion.shows_what_runs,
        policy=rules.policy,
        watch=rules.observations.after_reversal,
        now=now,
    )


def wanted(infusion: InfusionState, policy: SitePolicy, now: datetime) -> Wants | None:
    """What must come before it is started again after an emergency; None where nothing must.

    Where one thing asks for the order to be read again, another for another device, or an earlier check led
    to a third kind, no narrower check than a set-up brings them all.
    """
    if not infusion.waits:
        return None
    stands = infusion.emergencies
    if stands.absence is not None and stands.absence.needs_new_set(now, policy.away):
        return Wants.NEW_SET
    if stands.off is not None:
        return Wants.SYRINGE
    if stands.dead is not None and not infusion.in_force:
        # Nothing that two have read is left to be held beside another device.
        return Wants.ALL_ANEW
    wants = Wants.NEW_SETTINGS if _reads_the_order(stands) else Wants.ANOTHER_DEVICE
    kinds = {BROUGHT_BY[wants].name, infusion.led_to or BROUGHT_BY[wants].name}
    if len(kinds) > 1 or (wants is Wants.NEW_SETTINGS and stands.dead is not None):
        return Wants.ALL_ANEW
    return wants


def _reads_the_order(stands: Emergencies) -> bool:
    """Whether two read the order again before it is started: what was given meanwhile may have changed it."""
    return stands.hold is not None or stands.absence is not None


def _is_unread(infusion: InfusionState) -> bool:
    """Whether it was started without a check, and no two have found since what must be put right."""
    return infusion.is_unchecked and not infusion.led_to


def held_back(infusion: InfusionState, kind: Kind, policy: SitePolicy, now: datetime) -> HeldBack | None:
    """Why a check of this kind may not lead to a start of the infusion now, if so.

    A held infusion is restarted by nothing but a prescriber's decision and the kind of check that sets it
    anew, one that was away by nothing but the patient's coming back and the same kind, or a new set, and one
    whose syringe was taken for evidence by nothing but a set-up. What runs without a check is read as it runs
    before it is set up anew: what it is set to is gone then.
    """
    if kind.end is not End.CLEARED or infusion.ended_at is not None:
        return None
    stands = infusion.emergencies
    if stands.evidence is not None:
        return HeldBack(why=Why.EVIDENCE)
    if stands.hold is not None and stands.hold.decided is None:
        return HeldBack(why=Why.DECISION)
    if stands.absence is not None and stands.absence.back is None:
        return HeldBack(why=Why.NOT_BACK)
    wants = wanted(infusion, policy, now)
    if wants is None and kind.opens is Opens.BED and infusion.is_running and _is_unread(infusion):
        return HeldBack(why=Why.OTHER_KIND, kind=RE_CHECK.name)
    only_so = _reads_the_order(stands) or wants in _ONLY_SO
    if wants is None or not only_so or BROUGHT_BY[wants] is kind:
        return None
    return HeldBack(why=Why.OTHER_KIND, kind=BROUGHT_BY[wants].name)
