"""Papers for the time when the program is down: forms by the rules in force, and what runs here."""

from dataclasses import dataclass, replace
from datetime import datetime

from app.base import Act
from app.people import Permission, may
from app.records.beds import counted
from app.records.kept import KeptInfusion
from app.records.visibility import Sight, Viewer, sight, standing_of_infusion
from app.reports.downtime_forms import render_forms, rules_words
from app.reports.settings_sheet import RunsOnPaper, SettingsSheet, lines_in_force, render_settings_sheet
from app.site.installation import Site, is_for_training
from app.site.loading import load, load_infusion, rules_in_force, unit_name
from app.storage import OfInfusions, Reader
from app.workflow.infusions import since_of
from app.workflow.loading import roles_of, viewer_of
from app.workflow.looking import note_access
from app.workflow.refusals import NoSuchUnit, NotAllowed, ReadsBlind


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
        training = is_for_training(reader)
    if kept is None:
        return NoSuchUnit()
    return Forms(
        unit=kept.id, rules=rules_words(rules), pdf=render_forms(rules, kept.name, training=training)
    )


@dataclass(frozen=True, kw_only=True)
class SettingsOnPaper:
    """What runs on a unit and by which settings, as a PDF."""

    unit: str
    pdf: bytes


def settings_on_paper(site: Site, act: Act) -> SettingsOnPaper | ReadsBlind | NotAllowed:
    """The sheet of the unit of this shift: a look at each infusion on it, written down before it is given."""
    with site.store.read() as reader:
        person = reader.find_person(act.by.person)
        roles = roles_of(reader, act.by.person)
        if person is None or not may(roles, Permission.UNIT_STATE):
            return NotAllowed()
        viewer = viewer_of(reader, act.by, roles, act.now)
        if viewer.blind_at:
            return ReadsBlind()
        kept = sorted(
            reader.infusions_that(OfInfusions.RUNS, act.by.unit), key=lambda each: counted(each.bed)
        )
        found = [_runs(reader, each, viewer, act.now) for each in kept]
        rules = rules_in_force(reader, act.now, unit=act.by.unit)
        unit, training = unit_name(reader, act.by.unit), is_for_training(reader)
    # Whoever looks is written down first, and at all of it: no paper without its looks.
    seen = [check for check, _ in found if check]
    if seen:
        note_access(site, act, *seen, what="settings on paper")
    sheet = SettingsSheet(
        site=rules.policy.site,
        zone=rules.policy.zone,
        unit=unit,
        invented=rules.are_invented,
        training=training,
        at=act.now,
        by=person.printed_name,
        running=tuple(each for _, each in found),
    )
    return SettingsOnPaper(unit=act.by.unit, pdf=render_settings_sheet(sheet))


def _runs(reader: Reader, kept: KeptInfusion, viewer: Viewer, now: datetime) -> tuple[str, RunsOnPaper]:
    """One infusion, and the check whose values stand on the sheet; blank where none do."""
    state = load_infusion(reader, kept.id)
    listed = RunsOnPaper(bed=kept.bed, progress=standing_of_infusion(state).value, since=since_of(state))
    loaded = load(reader, state.in_force, now) if state.in_force else None
    if loaded is None or sight(loaded.state, viewer) is not Sight.EVERYTHING:
        return "", listed
    compared = loaded.last_comparison
    assert compared is not None  # noqa: S101  # both have signed it
    packs = {each["key"]: each["words"] for each in loaded.packs["packs"]}
    signed_at = max(each.at for each in loaded.state.signatures.values())
    lines = lines_in_force(compared.opened, packs)
    return state.in_force, replace(listed, signed_at=signed_at, lines=lines)
