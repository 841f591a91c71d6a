"""Papers for the time when the program is down: forms by the rules in force, and what runs here."""

from dataclasses import dataclass
from datetime import datetime

from app.reports.downtime_forms import render_forms, rules_words
from app.site.installation import Site
from app.site.loading import rules_in_force
from app.workflow.refusals import NoSuchUnit


@dataclass(frozen=True, kw_only=True)
class Forms:
    """The downtime forms of one unit as a PDF, and by which rules."""

    unit: str
    rules: str
    pdf: bytes


def downtime_forms(site: Site, now: datetime, unit: str) -> Forms | NoSuchUnit:
    """The forms of a unit: the same bytes for whoever asks, as long as its rules stay in force."""
    with site.store.read() as reader:
        kept = reader.find_unit(unit)
        rules = rules_in_force(reader, now, unit=unit)
    if kept is None:
        return NoSuchUnit()
    return Forms(unit=kept.id, rules=rules_words(rules), pdf=render_forms(rules, kept.name))
