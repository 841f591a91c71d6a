"""Open handed-in readings: only the comparison, verification and their own author's page may ask."""

from app.keys import open_envelope
from app.records.kept import SOURCES, KeptReading
from app.records.reading import Answers, latest
from app.records.sealed import opened, reading_context
from app.records.state import CheckState
from app.site.installation import Site
from app.storage import Reader


def own_latest(site: Site, reader: Reader, state: CheckState, slot: int) -> Answers:
    """One clinician's latest value of every field, from the rounds that were compared."""
    scopes = {each.number: each.scope for each in state.rounds if each.compared_at is not None}
    if not scopes:
        return {}
    kept = [
        each
        for each in reader.readings(state.check.id)
        if each.subject == SOURCES and each.slot == slot and each.round in scopes
    ]
    ordered = sorted(kept, key=lambda each: each.round)
    return latest((scopes[each.round], open_reading(site, each)) for each in ordered)


def open_reading(site: Site, kept: KeptReading) -> Answers:
    """The answers of a handed-in reading; only the comparison, and its own author's page, may ask."""
    context = reading_context(kept.check, kept.subject, kept.round, kept.person)
    return opened(open_envelope(site.key, context, kept.envelope)).answers
