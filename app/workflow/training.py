"""Training: recorded by somebody else for a day and a topic, withdrawn where it was recorded wrongly."""

from dataclasses import dataclass
from datetime import datetime
from zoneinfo import ZoneInfo

from app.base.days import read_day
from app.records import site_events
from app.records.kept_people import Training, TrainingWithdrawal
from app.records.policy import SitePolicy
from app.site.installation import Site
from app.storage import Reader
from app.workflow.accounts import NoSuchPerson
from app.workflow.asked_first import policy_here
from app.workflow.queueing import one_at_a_time
from app.workflow.refusals import Incomplete

LONGEST_TOPIC = 100
LONGEST_WHY = 200


@dataclass(frozen=True, kw_only=True)
class TrainingKept:
    """It stands, under this id."""

    training: str


@dataclass(frozen=True)
class OwnTraining:
    """Nobody records their own training."""


@dataclass(frozen=True, kw_only=True)
class WrongTraining:
    """What was written is no training; `faults` says how to write each field."""

    faults: dict[str, str]


@dataclass(frozen=True)
class Withdrawn:
    """It counts no more."""


@dataclass(frozen=True)
class NoSuchTraining:
    """There is no such training that counts."""


@dataclass(frozen=True, kw_only=True)
class TrainingSeen:
    """A training, and the name of whoever recorded it."""

    training: Training
    recorded_by: str


def topics_asked(site: Site, now: datetime) -> tuple[str, ...]:
    """What the policy in force asks people to be trained in."""
    with site.store.read() as reader:
        return _topics(policy_here(reader, now))


def see_trainings(site: Site, person: str) -> tuple[TrainingSeen, ...]:
    """What a person was trained in and counts."""
    with site.store.read() as reader:
        found = reader.trainings_of(person)
        names = reader.people_with({each.recorded_by for each in found})
    return tuple(
        TrainingSeen(
            training=each,
            recorded_by=names[each.recorded_by].printed_name
            if each.recorded_by in names
            else "whoever has the host's command line",
        )
        for each in found
    )


def record_training(  # whose, in what, when, by whom
    site: Site, now: datetime, *, by: str, new_id: str, person: str, topic: str, trained_on: str
) -> TrainingKept | NoSuchPerson | OwnTraining | WrongTraining:
    """Record that a person was trained on a day; what the policy names is written as it names it."""
    if by == person:
        return OwnTraining()
    with site.store.write() as tx:
        if tx.find_person(person) is None:
            return NoSuchPerson()
        faults = _faults(tx, now, topic, trained_on)
        if faults:
            return WrongTraining(faults=faults)
        kept = Training(
            id=new_id,
            person=person,
            topic=topic.strip(),
            trained_on=trained_on,
            recorded_by=by,
            recorded_at=now,
        )
        tx.add_training(kept)
        told = site_events.TrainingRecorded(
            training=kept.id, person=person, topic=kept.topic, trained_on=kept.trained_on
        )
        tx.append(told, at=now, by=by)
    return TrainingKept(training=kept.id)


def _faults(reader: Reader, now: datetime, topic: str, trained_on: str) -> dict[str, str]:
    policy = policy_here(reader, now)
    known, faults = _topics(policy), {}
    if known and topic.strip() not in known:
        faults["topic"] = f"Choose one of: {', '.join(known)}."
    elif not topic.strip() or len(topic.strip()) > LONGEST_TOPIC:
        faults["topic"] = f"Write for what, in at most {LONGEST_TOPIC} letters."
    today = now.astimezone(ZoneInfo(policy.zone)).date() if policy else now.date()
    day = read_day(trained_on)
    if day is None:
        faults["trained_on"] = "Write the day as year-month-day, such as 2031-05-02."
    elif day > today:
        faults["trained_on"] = "This day has not come yet."
    return faults


def _topics(policy: SitePolicy | None) -> tuple[str, ...]:
    return policy.training.topics if policy and policy.training else ()


def withdraw_training(
    site: Site, now: datetime, *, by: str, training: str, why: str
) -> Withdrawn | NoSuchTraining | Incomplete:
    """Let a training count no more: whoever took something up before goes on with nothing from here on."""
    said = why.strip()[:LONGEST_WHY]
    if not said:
        return Incomplete(fields=("why",))
    with site.store.write() as tx:
        one_at_a_time(tx, f"training {training}", now)
        if tx.find_training(training) is None:
            return NoSuchTraining()
        tx.withdraw_training(
            TrainingWithdrawal(training=training, withdrawn_by=by, withdrawn_at=now, why=said)
        )
        tx.append(site_events.TrainingWithdrawn(training=training, why=said), at=now, by=by)
    return Withdrawn()
