"""What is to be done about a line of a list, in a sentence each; and for how long it has stood."""

from collections.abc import Mapping
from datetime import timedelta

from app.records.ranking import Standing

# What follows from a standing alone; what is due, or what an emergency left, has words of its own beside it.
DO: Mapping[Standing, str] = {
    Standing.TWO_RUN: "Look at both now, patient, wristband and device: only one may go on.",
    Standing.ACT_NOW: "Go there: look at the patient, breathing and sedation, then at the device.",
    Standing.STOPPED: "Two nurses check it before it runs again.",
    Standing.LED: "Two nurses check it before it runs on.",
    Standing.PAUSED: "The line is let run on, or the device is stopped.",
    Standing.ACCOUNT_OPEN: "Two nurses read what is left and close the account.",
    Standing.SECOND_WANTED: "Send a second nurse, or join.",
    Standing.READY: "Both have signed: they start it before that lapses.",
    Standing.LAPSED: "The two look at the device again, and sign.",
    Standing.SYRINGE_LOW: "Ask pharmacy for the next one.",
}

_FIVE_MINUTES, _AN_HOUR = timedelta(minutes=5), timedelta(hours=1)


def for_how_long(stood: timedelta) -> str:
    """In steps of five minutes, later of hours: a page that says it need not change each minute."""
    if stood < _FIVE_MINUTES:
        return "less than 5 min"
    if stood < _AN_HOUR:
        return f"{stood // _FIVE_MINUTES * 5} min"
    return f"{stood // _AN_HOUR} h"
