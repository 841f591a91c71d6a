"""When a patient is observed next, by the site's protocol: the chart keeps what is observed."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any


@dataclass(frozen=True, kw_only=True)
class Stage:
    """So often, for so long."""

    every: timedelta
    lasts: timedelta


@dataclass(frozen=True, kw_only=True)
class Protocol:
    """How often a patient is observed: the stages one after the other from when the clock starts, and then.

    `at_risk` is the longest between two for a patient at risk, with a continuous part, or within `at_first`
    of the first start. `reminds`: pages remind, where the chart does not. `recovery`: the units in which a
    nurse watches each patient.
    """

    stages: tuple[Stage, ...]
    then: timedelta
    at_risk: timedelta
    at_first: timedelta
    after_reversal: Stage
    reminds: bool
    recovery: frozenset[str]


@dataclass(frozen=True, kw_only=True)
class Facts:
    """What decides how often: since when it is given, and since when the clock runs.

    It starts again after a loading dose, an increase, a bolus given by staff, a new strength, a reversal
    agent, and when the patient leaves recovery.
    """

    given_since: datetime
    clock_since: datetime
    is_continuous: bool = False
    is_at_risk: bool = False
    reversed_at: datetime | None = None


def protocol_from(content: Mapping[str, Any]) -> Protocol:
    """Read a published protocol."""
    return Protocol(
        stages=tuple(_stage(each) for each in content["stages"]),
        then=timedelta(minutes=content["then_every_minutes"]),
        at_risk=timedelta(minutes=content["at_risk_every_minutes"]),
        at_first=timedelta(hours=content["at_risk_hours"]),
        after_reversal=_stage(content["after_reversal"]),
        reminds=content["reminds"],
        recovery=frozenset(content.get("recovery", ())),
    )


def _stage(content: Mapping[str, Any]) -> Stage:
    return Stage(
        every=timedelta(minutes=content["every_minutes"]), lasts=timedelta(minutes=content["for_minutes"])
    )


def next_due(protocol: Protocol, facts: Facts, now: datetime) -> datetime:
    """The first moment after now at which the patient is to be observed."""
    at = facts.clock_since
    while at <= now:
        at += _until_next(protocol, facts, at)
    return at


def due_after(protocol: Protocol, facts: Facts, observed_at: datetime) -> datetime:
    """By when the patient is observed next after this; whether that has passed is for whoever asks."""
    at = max(observed_at, facts.clock_since)
    return at + _until_next(protocol, facts, at)


def _until_next(protocol: Protocol, facts: Facts, at: datetime) -> timedelta:
    """How long until the next one after one at this moment."""
    longest = [_by_stage(protocol, at - facts.clock_since)]
    if facts.is_continuous or facts.is_at_risk or at - facts.given_since < protocol.at_first:
        longest.append(protocol.at_risk)
    if facts.reversed_at is not None and at - facts.reversed_at < protocol.after_reversal.lasts:
        longest.append(protocol.after_reversal.every)
    return min(longest)


def _by_stage(protocol: Protocol, since: timedelta) -> timedelta:
    over = timedelta(0)
    for stage in protocol.stages:
        over += stage.lasts
        if since < over:
            return stage.every
    return protocol.then
