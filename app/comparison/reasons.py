"""For each caution the short list of reasons with which two clinicians may go on."""

from collections.abc import Mapping
from dataclasses import dataclass


@dataclass(frozen=True, kw_only=True, slots=True)
class Reason:
    """One reason; `asks_name`: whoever was asked must be named with it."""

    key: str
    words: str
    asks_name: bool = False


_PRESCRIBER_ASKED = Reason(
    key="prescriber-asked", words="The prescriber was asked and wants it so", asks_name=True
)
_PHARMACIST_ASKED = Reason(key="pharmacist-asked", words="A pharmacist was asked and agrees", asks_name=True)
_ORDERED_SO = Reason(key="ordered-so", words="It is ordered so, and the order says why")
_LOOKED_AGAIN = Reason(key="looked-again", words="Both looked at the device again, and it shows the same")
_WATCHED_CLOSELY = Reason(key="watched-closely", words="The patient is watched more closely because of it")

REASONS: Mapping[str, tuple[Reason, ...]] = {
    "above-soft-limit": (_ORDERED_SO, _PRESCRIBER_ASKED, _PHARMACIST_ASKED),
    "below-soft-limit": (_ORDERED_SO, _PRESCRIBER_ASKED, _PHARMACIST_ASKED),
    "concentration-unordered": (
        Reason(key="usual-here", words="The concentration on the label is the usual one on this unit"),
        _PRESCRIBER_ASKED,
        _PHARMACIST_ASKED,
    ),
    "limit-required": (_PRESCRIBER_ASKED, _PHARMACIST_ASKED),
    "continuous-opioid-naive": (_PRESCRIBER_ASKED, _WATCHED_CLOSELY),
    "continuous-in-patient-at-risk": (_PRESCRIBER_ASKED, _PHARMACIST_ASKED),
    "dose-below-step": (
        Reason(key="difference-small", words="The dose really delivered is close enough to the order"),
        _PRESCRIBER_ASKED,
        _PHARMACIST_ASKED,
    ),
    "limit-is-passed": (_ORDERED_SO, _PRESCRIBER_ASKED, _WATCHED_CLOSELY),
    "verified-as-urgent-exception": (
        Reason(key="pain-cannot-wait", words="The pain cannot wait, and the review is asked for"),
        _PRESCRIBER_ASKED,
        _PHARMACIST_ASKED,
    ),
    "allergy-not-recorded": (
        Reason(key="patient-asked", words="The patient was asked and knows of no allergy to this drug"),
        Reason(key="had-it-before", words="The patient has had this drug before without a reaction"),
        _PRESCRIBER_ASKED,
    ),
    "intolerance-reviewed": (
        Reason(key="mild", words="What is described is mild and is watched for"),
        _PRESCRIBER_ASKED,
        _PHARMACIST_ASKED,
    ),
    "patient-at-risk": (
        _WATCHED_CLOSELY,
        Reason(key="stopped", words="What else was given is stopped and no longer acts"),
        _PRESCRIBER_ASKED,
    ),
    "carrier-rate-differs": (
        Reason(key="runs-for-something-else", words="The carrier runs at the rate of something else in it"),
        _PRESCRIBER_ASKED,
        _PHARMACIST_ASKED,
    ),
    "doses-while-sedated": (
        Reason(key="patient-pressed", words="The patient alone pressed, and is watched more closely"),
        Reason(key="others-told", words="Others had pressed, and were told never to"),
        _PRESCRIBER_ASKED,
    ),
    "orders-unclear": (_PRESCRIBER_ASKED, _PHARMACIST_ASKED),
    "carrier-not-listed": (_PRESCRIBER_ASKED, _PHARMACIST_ASKED),
    "primed-volume-above-set": (
        Reason(key="primed-again", words="It was primed again, and what ran out is written down"),
        _PHARMACIST_ASKED,
    ),
    # Of the account.
    "account-totals-below-predicted": (
        Reason(key="dose-ended-early", words="A dose was ended before all of it was given"),
        _LOOKED_AGAIN,
        _PHARMACIST_ASKED,
    ),
    "account-doses-below-boluses": (
        Reason(key="not-counted", words="This device does not count what staff give among its doses"),
        _LOOKED_AGAIN,
    ),
    "account-presses-far-above-doses": (
        Reason(key="pain-reviewed", words="The patient was asked about pain, and what follows is decided"),
        Reason(key="shown-again", words="The patient was shown again how the button works"),
        _PRESCRIBER_ASKED,
    ),
}


def reasons_for(code: str) -> tuple[Reason, ...]:
    """The reasons that a finding of this code can be acknowledged with; none unless it is a caution."""
    return REASONS.get(code, ())
