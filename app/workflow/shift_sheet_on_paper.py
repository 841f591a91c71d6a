"""The shift sheet as a PDF: what lists say, what was caught since the last shift, and what the log is."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

from app.base import Act
from app.people import Permission, may
from app.records.beds import counted
from app.records.due import DueThing
from app.records.ranking import Standing, rank
from app.records.shifts import last_change
from app.records.visibility import infusion_words
from app.reports.shift_sheet import (
    PaperShiftSheet,
    SheetCaught,
    SheetDue,
    SheetLine,
    checkpoint_rows,
    render_shift_sheet,
)
from app.site.installation import Site, is_for_training
from app.site.loading import rules_in_force, unit_name
from app.storage import Tally
from app.words.checking import code_words
from app.words.due import due_words
from app.words.emergencies import HARMS, KEYS, custody_words
from app.words.screens import kind_words
from app.workflow.listing import Listed, Running, UnitList
from app.workflow.listing_unchecked import RunningUnchecked
from app.workflow.loading import roles_of, viewer_of
from app.workflow.refusals import NotAllowed
from app.workflow.shift_sheet import ShiftSheet, shift_sheet

_AROUND_A_CHANGE = timedelta(hours=2)
"""Whoever prints it around a shift change means the shift that goes, not the one that comes."""
_LOUD = frozenset(list(Standing)[: list(Standing).index(Standing.SECOND_WANTED)])


@dataclass(frozen=True, kw_only=True)
class ShiftSheetOnPaper:
    """The sheet of one unit, as a PDF."""

    unit: str
    pdf: bytes


def shift_sheet_on_paper(site: Site, act: Act) -> ShiftSheetOnPaper | NotAllowed:
    """The sheet of the unit of this shift."""
    made = sheet_on_paper(site, act)
    if isinstance(made, NotAllowed):
        return made
    return ShiftSheetOnPaper(unit=act.by.unit, pdf=render_shift_sheet(made))


def sheet_on_paper(site: Site, act: Act) -> PaperShiftSheet | NotAllowed:
    """What stands on it; to whoever reads blind at a bed it says of it the state alone."""
    with site.store.read() as reader:
        person = reader.find_person(act.by.person)
        roles = roles_of(reader, act.by.person)
        if person is None or not may(roles, Permission.UNIT_FINDINGS):
            return NotAllowed()
        viewer = viewer_of(reader, act.by, roles, act.now)
        rules = rules_in_force(reader, act.now, unit=act.by.unit)
        policy = rules.policy
        since = last_change(act.now - _AROUND_A_CHANGE, ZoneInfo(policy.zone), policy.shift_changes)
        ended, caught = reader.caught_on_unit(
            act.by.unit, since, hidden_at=viewer.blind_at, hidden_on=viewer.blind_on
        )
        unit, training = unit_name(reader, act.by.unit), is_for_training(reader)
    made = shift_sheet(site, act)
    return PaperShiftSheet(
        site=policy.site,
        zone=policy.zone,
        unit=unit,
        invented=rules.are_invented,
        training=training,
        at=act.now,
        by=person.printed_name,
        lines=_lines(made.listed),
        due=_due(made.listed),
        syringe_low=tuple(sorted((e.bed for e in made.listed.running if e.syringe_low), key=counted)),
        also=tuple(_also(made)),
        ended=ended,
        caught=_caught(caught),
        caught_since=since,
        partly_closed=bool(viewer.blind_at),
        checkpoint=checkpoint_rows(made.checkpoint) if made.checkpoint else (),
    )


def _lines(listed: UnitList) -> tuple[SheetLine, ...]:
    """Every line in the one ranking, as on the lists."""
    found = [
        *((_unchecked_standing(each), each.due_at, _unchecked(each)) for each in listed.unchecked),
        *((each.standing, each.since, _running(each)) for each in listed.running),
        *((each.standing, each.opened_at, _check(each)) for each in listed.unit),
    ]
    return tuple(
        line for standing, since, line in sorted(found, key=lambda each: rank(each[0], each[1], each[2].bed))
    )


def _unchecked_standing(each: RunningUnchecked) -> Standing:
    return Standing.ON_PAPER if each.paper and each.paper.counts else Standing.UNCHECKED


def _unchecked(each: RunningUnchecked) -> SheetLine:
    """Since when is on no list: what counts is by when two check it, which stands among what is due."""
    paused = ", the line is paused" if each.paused_at else ""
    progress = f"{_unchecked_standing(each).value}{paused}"
    return SheetLine(bed=each.bed, what="Infusion", progress=progress, since=None, loud=True)


def _running(each: Running) -> SheetLine:
    progress = infusion_words(each.standing, each.led_to)
    loud = each.standing in _LOUD
    return SheetLine(bed=each.bed, what="Infusion", progress=progress, since=each.since, loud=loud)


def _check(each: Listed) -> SheetLine:
    return SheetLine(
        bed=each.bed,
        what=kind_words(each.kind),
        progress="waits for help" if each.waits_for_help else each.progress,
        since=each.opened_at,
        loud=each.waits_for_help or each.standing in _LOUD,
    )


def _due(listed: UnitList) -> tuple[SheetDue, ...]:
    """What is due, each thing once with its beds; what is overdue stands first."""
    at_beds: dict[tuple[bool, DueThing], list[tuple[str, datetime]]] = {}
    for unchecked in listed.unchecked:
        place = not unchecked.overdue, DueThing.BLIND_CHECK
        at_beds.setdefault(place, []).append((unchecked.bed, unchecked.due_at))
    for running in listed.running:
        for each in running.due:
            at_beds.setdefault((not each.overdue, each.what), []).append((running.bed, each.at))
        if running.observe_at is not None:
            place = True, DueThing.OBSERVATION
            at_beds.setdefault(place, []).append((running.bed, running.observe_at))
    return tuple(
        SheetDue(
            words=due_words(what),
            overdue=not in_time,
            beds=tuple(sorted(beds, key=lambda each: (each[1], counted(each[0])))),
        )
        for (in_time, what), beds in sorted(at_beds.items())
    )


def _also(made: ShiftSheet) -> Iterator[str]:
    """What stands on no line: taken elsewhere, kept, not found, not put on, record being made."""
    for away in made.listed.away:
        yield f"Bed {away.before} was taken to {away.unit}, bed {away.bed}: two have not read it there yet."
    for told in made.listed.told:
        stands = told.left.stands
        if stands.evidence is not None:
            kept = f"Bed {told.bed}: {HARMS[stands.evidence.what].lower()}; kept as it is."
            yield f"{kept} {custody_words(stands.custody)}".strip()
        if stands.key is not None:
            yield f"Bed {told.bed}: {KEYS[stands.key.missing.what].lower()} is not found."
    for out in made.listed.out:
        yield f"Bed {out.bed}: {out.many} issued and not put on."
    for bed in made.being_made:
        yield f"Bed {bed}: both have signed, record being made."


def _caught(tallies: tuple[Tally, ...]) -> tuple[SheetCaught, ...]:
    """By what was found, the most frequent first."""
    counts: dict[str, dict[str, int]] = {}
    for each in tallies:
        counts.setdefault(each.what, {})[each.other] = each.count
    rows = [
        SheetCaught(words=code_words(code), stops=of.get("stop", 0), cautions=of.get("caution", 0))
        for code, of in counts.items()
    ]
    return tuple(sorted(rows, key=lambda row: (-row.stops - row.cautions, row.words)))
