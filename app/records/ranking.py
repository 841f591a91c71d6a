"""One ranking for every list: what a line may say of a check or of an infusion, the most urgent first."""

from datetime import datetime
from enum import StrEnum


class Standing(StrEnum):
    """What a list says; the order of these lines is the ranking, and nothing else ranks."""

    # What the log has of two infusions cannot be: of one patient, or of one bed, both run.
    TWO_RUN = "two infusions run"
    UNCHECKED = "running without a check"
    # No check either: what two nurses did on paper while the program was down, typed in later.
    ON_PAPER = "checked on paper"
    ACT_NOW = "ACT NOW"
    ASKED_FOR_HELP = "asked for help"
    # Stopped too, and something must come before it is started again.
    HELD = "held after a reversal agent"
    KEPT = "kept as evidence"
    STOPPED = "the device was stopped"
    DEAD = "device dead, or power lost"
    AWAY = "away without PCA"
    PAUSED = "the line is paused"
    # It has ended, and no two have read what was left and closed its account.
    ACCOUNT_OPEN = "account open"
    # It runs on, or was stopped, and is held until the check to which an earlier one led.
    LED = "led to another check"
    SECOND_WANTED = "second wanted"
    READY = "ready to start"
    LAPSED = "no longer ready to start"
    OVERDUE = "overdue"
    # Taken from another unit, and no two have read it since.
    CHECK_DUE = "check due"
    SYRINGE_LOW = "syringe low"
    IN_PROGRESS = "in progress"
    RUNNING = "running"
    STARTED = "started"
    DONE = "done"
    ABANDONED = "given up"


_RANK = {standing: place for place, standing in enumerate(Standing)}


def rank(standing: Standing, since: datetime, bed: str) -> tuple[int, datetime, str]:
    """Where a line stands among others: by the ranking, then what waits longest, then the bed."""
    return _RANK[standing], since, bed
