"""A bolus given by staff, as its page shows it."""

from dataclasses import dataclass
from datetime import datetime

from app.judging.boluses import TooMuch, TooSoon
from app.web.models.lists import place
from app.web.models.stands import minutes
from app.words.names import answer_words
from app.workflow import boluses
from app.workflow.bolus_looks import CheckOpen
from app.workflow.refusals import ReadsBlind


@dataclass(frozen=True, kw_only=True)
class BolusPage:
    """What the order lets staff give, whether this nurse has looked, and why none may be given now, if so.

    `until` is from when the order allows one again; `open_since` of the check for which none is given;
    `peak_at` when the last one is looked at; `may_have_given` when this nurse looked, where one may have been
    given then and none may be given now, and `outside_at` when a look that was outside the protocol came
    after it; `started_at` when it was started anew since: then the time has to be said; `opened_at` when a
    check was opened for which the device stands.
    """

    infusion: str
    place: str
    drug: str
    dose: str
    ordered: str
    last_at: datetime | None
    peak_at: datetime | None
    is_peak: bool
    looked: bool
    valid_minutes: int
    scale: str
    calls: bool
    in_an_hour: int
    refused: str
    until: datetime | None
    open_since: datetime | None
    may_have_given: datetime | None
    outside_at: datetime | None
    started_at: datetime | None
    opened_at: datetime | None


def bolus_page(seen: boluses.BolusSeen, now: datetime) -> BolusPage:
    """The page for whoever may give it."""
    order = seen.order
    return BolusPage(
        infusion=seen.infusion,
        place=place(seen.unit, seen.bed),
        drug=seen.drug,
        dose=answer_words(order.dose) if order else "",
        ordered=_ordered(order.interval, order.most, order.window) if order else "",
        last_at=seen.last.at if seen.last else None,
        peak_at=seen.peak_at,
        is_peak=seen.peak_at is not None and seen.peak_at <= now,
        looked=seen.looked,
        valid_minutes=minutes(seen.policy.clearance),
        scale=seen.policy.baseline.scale,
        calls=seen.in_an_hour >= seen.policy.staff_boluses_call,
        in_an_hour=seen.in_an_hour,
        refused=refused_words(seen.refused) if seen.refused else "",
        until=seen.refused.until if isinstance(seen.refused, TooSoon | TooMuch) else None,
        open_since=seen.refused.at if isinstance(seen.refused, CheckOpen) else None,
        may_have_given=seen.may_have_given,
        outside_at=seen.outside_at,
        started_at=seen.started_at,
        opened_at=seen.opened_at,
    )


def _ordered(interval: str, most: str, window: str) -> str:
    said = (answer_words(each) for each in (interval, most, window))
    return "not more often than every {}, and at most {} in {}".format(*said)


_REFUSED: dict[type[boluses.CannotGive], str] = {
    boluses.CoversOnly: "You cover a colleague's break: whoever answers for the infusion gives it.",
    boluses.NotRunning: "This infusion does not run, is paused, or a check comes first: no bolus is given.",
    CheckOpen: (
        "A check that changes or ends what runs is open: the device stands, and no bolus is given. Look at "
        "the patient anew once it runs on."
    ),
    boluses.NotOrdered: (
        "The order in force, as two nurses read it, lets staff give no bolus. Ask the prescriber for an "
        "order; two nurses check it."
    ),
    boluses.NoPeakKnown: (
        "The drug library does not say when this drug's effect is greatest. Call a pharmacist."
    ),
    boluses.PeakNotSeen: "What the last bolus did at its peak is not written down yet.",
    TooSoon: "The order allows the next one only later.",
    TooMuch: "With another one staff would have given more than the order allows. Call the pain service.",
    ReadsBlind: (
        "You are one of two who read here, each alone: the order is closed to you. "
        "A colleague gives the bolus, unless the device stands for this check."
    ),
}


def refused_words(refused: boluses.CannotGive) -> str:
    """Why none may be given now."""
    return _REFUSED[type(refused)]
