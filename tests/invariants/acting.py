"""What anybody may try at any time, and what says that it was refused."""

from collections.abc import Callable, Mapping
from typing import Any

from app.records.life import Action
from app.records.reading import Answers
from app.records.sources import Source
from app.workflow import opening, reading, refusals, settling, signing, starting, stepping
from app.workflow.sweeping import Swept, sweep_once
from tests.factories.answers import answers
from tests.factories.ward import CAUTIONED, DIFFERING, Somebody, Ward

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
    reading.SignInAnew,
    reading.AlreadyHandedIn,
    reading.Stale,
    settling.HelpNeeded,
    settling.NoSuchFinding,
    settling.TakenAlready,
    settling.OneOfTheTwo,
    stepping.OutOfTurn,
    stepping.Malformed,
    signing.AlreadySigned,
    signing.OtherRecord,
    signing.StillOpen,
)

TOO_HIGH = {"demand_dose": "0.8 mg", "limit_amount": "4 mg"}
READ: dict[str, Answers] = {
    "agreed": answers(),
    "ten times": DIFFERING,
    "sedated": CAUTIONED,
    "too high": answers(order=TOO_HIGH, device=TOO_HIGH),
    "expired": answers(label={"use_by": "2030-01-01"}),
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
    "outcome": ("read-again", "go-on", "abandon", "have-a-look"),
    "place": (0, 1, 2),
    "volume": ("2.3 mL", "2.4 mL", "9 mL", "2.3"),
    "sedation": ("0", "2", ""),
    "same": (True, True, True, False),
    "honest": (True, True, True, False),
}

Given = Mapping[str, Any]


def _join(ward: Ward, who: Somebody, _given: Given) -> object:
    return opening.join_check(ward.site, ward.act(who), ward.check)


def _read(ward: Ward, who: Somebody, given: Given) -> object:
    read = READ[given["read"]]
    for source in Source:
        desk = reading.open_desk(ward.site, ward.act(who), ward.check)
        if not isinstance(desk, reading.Desk):
            return desk
        saved = reading.save_draft(
            ward.site,
            ward.act(who),
            ward.check,
            source=source,
            answers=read[source.value],
            version=desk.version,
        )
        assert isinstance(saved, reading.Saved), saved
    return reading.hand_in(ward.site, ward.act(who), ward.check)


def _danger(ward: Ward, who: Somebody, _given: Given) -> object:
    return reading.say_danger(ward.site, ward.act(who), ward.check, why="wrong-syringe")


def _compare(ward: Ward, _who: Somebody, _given: Given) -> object:
    swept = sweep_once(ward.site, ward.wait().now, holder="sweeper")
    assert swept is not None
    assert swept.failed == ()
    # Nothing to do says nothing, like a refusal.
    return refusals.NotFound() if swept == Swept(compared=0, issued=0) else swept


def _read_again(ward: Ward, who: Somebody, given: Given) -> object:
    return settling.read_again(ward.site, ward.act(who), ward.check, touched=given["touched"], why="again")


def _acknowledge(ward: Ward, who: Somebody, given: Given) -> object:
    cautions = ward.state().cautions
    key = cautions[given["place"] % len(cautions)].key if cautions else "none"
    return settling.acknowledge(
        ward.site,
        ward.act(who),
        ward.check,
        finding=key,
        reason="prescriber-asked",
        named="Dr Brandt" if given["honest"] else "",
        text="",
    )


def _ask(ward: Ward, who: Somebody, _given: Given) -> object:
    return settling.ask_for_help(ward.site, ward.act(who), ward.check, why="cannot-settle", text="")


def _take(ward: Ward, who: Somebody, _given: Given) -> object:
    return settling.take_help(ward.site, ward.act(who), who.roles, ward.check)


def _settle(ward: Ward, who: Somebody, given: Given) -> object:
    return settling.settle_help(ward.site, ward.act(who), ward.check, outcome=given["outcome"], text="")


def _grant(ward: Ward, who: Somebody, given: Given) -> object:
    stops = ward.state().open_stops
    return settling.grant_exception(
        ward.site,
        ward.act(who),
        who.roles,
        ward.check,
        finding=stops[given["place"] % len(stops)].key if stops else "none",
        reason="pain team's plan",
        prescriber="Dr Brandt",
    )


def _confirm(ward: Ward, who: Somebody, given: Given) -> object:
    steps = [step.id for step in stepping.open_steps(ward.state()) if not step.entry or given["honest"]]
    if given["place"]:
        # Without the two that ask for an entry of their own: what one can tick.
        steps = [each for each in steps if each not in {"baseline", "primed-volume"}]
    return stepping.take_steps(ward.site, ward.act(who), ward.check, stepping.Given(ticked=tuple(steps)))


def _observe(ward: Ward, who: Somebody, given: Given) -> object:
    seen = stepping.Observed(sedation=given["sedation"], respiratory_rate="14 /min", spo2="97 %")
    return stepping.take_steps(ward.site, ward.act(who), ward.check, stepping.Given(observed=seen))


def _prime(ward: Ward, who: Somebody, given: Given) -> object:
    # Sometimes what was sent in the round before comes again.
    asked_in = ward.state().priming_round - int(not given["honest"])
    read = stepping.PrimedVolume(volume=given["volume"], round=asked_in)
    return stepping.take_steps(ward.site, ward.act(who), ward.check, stepping.Given(primed=read))


def _sign(ward: Ward, who: Somebody, given: Given) -> object:
    return signing.sign_record(
        ward.site,
        ward.act(who),
        ward.check,
        login=who.login,
        secret=who.secret,
        digest=ward.state().frozen_digest if given["honest"] else "another",
    )


def _look(ward: Ward, who: Somebody, given: Given) -> object:
    return starting.take_last_look(ward.site, ward.act(who), ward.check, same=given["same"])


def _start(ward: Ward, who: Somebody, _given: Given) -> object:
    return starting.start_infusion(ward.site, ward.act(who), ward.check)


def _abandon(ward: Ward, who: Somebody, given: Given) -> object:
    reason = "time" if given["place"] == 0 else ""
    return settling.abandon(ward.site, ward.act(who), ward.check, reason=reason, text="")


def _stop(ward: Ward, who: Somebody, _given: Given) -> object:
    return starting.note_stop(ward.site, ward.act(who), who.roles, ward.check, stop=starting.Stop())


TRY: dict[Action, Callable[[Ward, Somebody, Given], object]] = {
    Action.JOIN: _join,
    Action.READ: _read,
    Action.SAY_DANGER: _danger,
    Action.COMPARE: _compare,
    Action.READ_AGAIN: _read_again,
    Action.ACKNOWLEDGE: _acknowledge,
    Action.ASK_FOR_HELP: _ask,
    Action.TAKE_HELP: _take,
    Action.SETTLE_HELP: _settle,
    Action.GRANT_EXCEPTION: _grant,
    Action.CONFIRM_STEPS: _confirm,
    Action.OBSERVE_BASELINE: _observe,
    Action.READ_PRIMED_VOLUME: _prime,
    Action.SIGN: _sign,
    Action.LAST_LOOK: _look,
    Action.START: _start,
    Action.ABANDON: _abandon,
    Action.NOTE_STOP: _stop,
}
