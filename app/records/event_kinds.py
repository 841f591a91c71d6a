"""Every kind of event by the name under which it is stored."""

from app.records import (
    account_events,
    answering_events,
    bolus_events,
    change_events,
    emergency_events,
    ending_events,
    events,
    export_events,
    issue_events,
    order_events,
    paper_events,
    review_events,
    sample_events,
    site_events,
    training_events,
    ward_events,
)

_MODULES = (
    account_events,
    answering_events,
    bolus_events,
    change_events,
    emergency_events,
    ending_events,
    events,
    export_events,
    issue_events,
    order_events,
    paper_events,
    review_events,
    sample_events,
    site_events,
    training_events,
    ward_events,
)
KINDS: dict[str, type[events.Event]] = {
    each.kind: each
    for module in _MODULES
    for each in vars(module).values()
    if isinstance(each, type) and issubclass(each, events.Event) and each is not events.Event
}
ENDING_KINDS = tuple(kind for kind, event in KINDS.items() if event.ends_a_check)

ISSUED = (events.RecordIssued, events.WhatFollowedIssued, training_events.CompetencyIssued)
"""What says that a sealed file was issued."""
