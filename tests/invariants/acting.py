"""What anybody may try at any time, and what says that it was refused."""

from collections.abc import Callable, Mapping, Sequence
from typing import Any

from app.records.followup import Found
from app.records.life import Action
from app.records.outcomes import NAMED
from app.records.reading import Answers
from app.records.restarting import HeldBack
from app.records.steps import PATIENT
from app.workflow import elsewhere, helping, opening, reading, refusals, settling, signing, stepping
from app.workflow.own_signature import OtherRecord
from app.workflow.sweeping import Swept, sweep_once
from tests.factories.answers import SHORT, answers
from tests.story.people import Somebody
from tests.story.trying import PRESCRIBER
from tests.story.ward import CAUTIONED, DIFFERING, Ward

REFUSALS = (
    refusals.NotFound,
    refusals.NotYours,
    refusals.NotNow,
    refusals.NotAllowed,
    refusals.NotOnShift,
    refusals.Incomplete,
    refusals.WrongCredential,
    refusals.TooManyTries,
    opening.Full,
    opening.AlreadyJoined,
    opening.ThirdPersonElsewhere,
    opening.NotSeen,
    reading.SignInAnew,
    reading.AlreadyHandedIn,
    reading.Stale,
    settling.HelpNeeded,
    settling.NoSuchFinding,
    helping.TakenAlready,
    helping.TakenOver,
    helping.OneOfTheTwo,
    helping.DoesNotFit,
    stepping.OutOfTurn,
    stepping.Malformed,
    signing.AlreadySigned,
    OtherRecord,
    signing.StillOpen,
    elsewhere.RunsElsewhere,
    HeldBack,
    refusals.KeptAsEvidence,
)

TOO_HIGH = {"demand_dose": "0.8 mg", "limit_amount": "4 mg"}
READ: dict[str, Answers] = {
    "agreed": answers(),
    "ten times": DIFFERING,
    "sedated": CAUTIONED,
    "too high": answers(order=TOO_HIGH, device=TOO_HIGH),
    "expired": answers(label={"use_by": "2030-01-01"}),
    "short": SHORT,
    "half": answers(device={"lockout": None}, monitor={"capnography": None}),
    "no carrier": answers(
        order={"carrier_fluid": "none", "carrier_rate": None},
        device={"carrier_fluid": "none", "carrier_rate": None, "pack": "set-150-own"},
    ),
}

# What an act may need besides who does it; Hypothesis draws one of each.
CHOICES: Mapping[str, tuple[Any, ...]] = {
    "read": tuple(READ),
    "touched": ((), ("device",), ("label",), ("order", "device"), ("wristband",)),
    "outcome": (*NAMED, "have-a-look"),
    "place": (0, 1, 2),
    "volume": ("2.3 mL", "2.4 mL", "9 mL", "2.3"),
    "sedation": ("0", "2", ""),
    "same": (True, True, True, False),
    "honest": (True, True, True, False),
    "why": ("", "line-or-site", "end-of-therapy"),
}

Given = Mapping[str, Any]


def _compare(ward: Ward) -> object:
    swept = sweep_once(ward.site, ward.wait().now, holder="sweeper")
    assert swept is not None
    assert swept.failed == ()
    # Nothing to do says nothing, like a refusal.
    return refusals.NotFound() if swept == Swept(compared=0, issued=0) else swept


def _one_of(found: Sequence[Found], given: Given) -> str:
    return found[given["place"] % len(found)].key if found else "none"


def _confirm(ward: Ward, who: Somebody, given: Given) -> object:
    """That one did what is open, that the other did, or that one verified what the other did."""
    state = ward.state()
    waits_for_patient = [each for each in stepping.open_steps(state) if each.entry == PATIENT]
    if any(state.find_doer(each) is None for each in waits_for_patient):
        return ward.reading_wristband(who, ward.patient if given["honest"] else "DM-1")
    say = (ward.doing, ward.naming, ward.verifying)[given["place"]]
    said = []
    for step in stepping.open_steps(state):
        by_the_other = state.find_doer(step) not in (None, state.slot_of(who.id))
        may = by_the_other if say == ward.verifying else not step.entry
        if may or not given["honest"]:
            said.append(step.id)
    return say(who, *said)


def _prime(ward: Ward, who: Somebody, given: Given) -> object:
    # Sometimes what was sent in the round before comes again.
    return ward.reading_volume(who, given["volume"], ward.state().priming_round - int(not given["honest"]))


TRY: dict[Action, Callable[[Ward, Somebody, Given], object]] = {
    Action.JOIN: lambda ward, who, _: ward.joining(who),
    Action.READ: lambda ward, who, given: ward.reading(who, READ[given["read"]]),
    Action.SAY_DANGER: lambda ward, who, _: ward.saying_danger(who),
    Action.COMPARE: lambda ward, _who, _: _compare(ward),
    Action.READ_AGAIN: lambda ward, who, given: ward.reading_again(who, *given["touched"]),
    Action.RECOUNT: lambda ward, who, _: ward.recounting(who),
    Action.ACKNOWLEDGE: lambda ward, who, given: ward.acknowledging(
        who, _one_of(ward.state().cautions, given), named=PRESCRIBER if given["honest"] else ""
    ),
    Action.ASK_FOR_HELP: lambda ward, who, _: ward.asking_for_help(who),
    Action.TAKE_HELP: lambda ward, who, _: ward.taking_help(who),
    Action.SETTLE_HELP: lambda ward, who, given: ward.settling_help(who, given["outcome"]),
    Action.GRANT_EXCEPTION: lambda ward, who, given: ward.granting(
        who, _one_of(ward.state().open_stops, given)
    ),
    Action.CONFIRM_STEPS: _confirm,
    Action.OBSERVE_BASELINE: lambda ward, who, given: ward.observing(who, sedation=given["sedation"]),
    Action.READ_PRIMED_VOLUME: _prime,
    Action.TAKE_BACK: lambda ward, who, given: ward.taking_back(who, last=None if given["honest"] else 0),
    Action.SIGN: lambda ward, who, given: ward.signing(who, digest="" if given["honest"] else "another"),
    Action.LAST_LOOK: lambda ward, who, given: ward.looking(who, same=given["same"]),
    Action.START: lambda ward, who, _: ward.starting(who),
    Action.LEAD_ON: lambda ward, who, _: ward.leading_on(who),
    Action.ABANDON: lambda ward, who, given: ward.abandoning(who, reason="" if given["place"] else "time"),
    Action.NOTE_STOP: lambda ward, who, given: ward.noting_a_stop(who, why=given["why"]),
}
