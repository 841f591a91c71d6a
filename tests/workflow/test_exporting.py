"""Exports: cleared records only, by the site's days, each in the log."""

import json
import stat
from dataclasses import replace
from datetime import date, timedelta
from pathlib import Path

import pytest

from app.records import events
from app.records.kept import Participant
from app.records.state import ENDED, Phase
from app.records.visibility import Sight, Viewer, sight
from app.site.record import earlier_looks
from app.workflow import export_apart, stopping
from app.workflow.credentials import Signatory
from app.workflow.export_jobs import Asked, Job
from app.workflow.export_making import make_export
from app.workflow.exporting import (
    ReadsBlind,
    Span,
    Wanted,
    ask_for_export,
    collect_export,
    export_at_host,
    find_export,
    tend_exports,
)
from app.workflow.refusals import NotAllowed, WrongCredential, WrongSpan
from tests.story.people import ADELE, IMOGEN, NADIA, PETRA, QUILL, RUTH, TOMAS, Somebody
from tests.story.script import WAYS
from tests.story.ward import Ward

DAY = date(2031, 5, 2)
STOP = events.DeviceStopped.kind
A_DAY = timedelta(days=1)


@pytest.fixture(autouse=True)
def _made_here(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(export_apart, "start", export_apart.make_here)


def exports(
    ward: Ward,
    who: Somebody = QUILL,
    *,
    form: str = "jsonl",
    first: date = DAY,
    last: date = DAY,
    **more: bool,
) -> object:
    wanted = Wanted(span=Span(first=first, last=last), form=form, **more)
    return ask_for_export(ward.site, ward.act(who), who.roles, wanted)


def content(job: object) -> bytes:
    assert isinstance(job, Job)
    file = job.find_file()
    assert file is not None
    return file.read_bytes()


def at_host(ward: Ward, who: Somebody = QUILL, *, secret: str = "", form: str = "jsonl") -> object:
    return export_at_host(
        ward.site,
        ward.wait().now,
        Signatory(login=who.login, secret=secret or who.secret),
        Wanted(span=Span(first=DAY, last=DAY), form=form),
    )


def lines(ward: Ward, who: Somebody = QUILL, *, first: date = DAY, last: date = DAY) -> list[bytes]:
    return content(exports(ward, who, first=first, last=last)).splitlines()


def frozen(ward: Ward, edition: int = 1) -> bytes:
    with ward.site.store.read() as reader:
        return reader.frozen_records(ward.check)[edition - 1].document


def test_behind_each_check_stands_its_record_byte_for_byte_as_it_was_signed(ward: Ward) -> None:
    ward.at_stage(Phase.STARTED)
    first = frozen(ward)
    ward.at_stage(Phase.STARTED)

    assert lines(ward)[1::2] == [first, frozen(ward)]
    assert [json.loads(each)["format"] for each in lines(ward)[::2]] == ["countersign.ended-check/1"] * 2


def test_of_several_editions_the_last_that_both_signed_is_exported(ward: Ward) -> None:
    ward.at_stage(Phase.LAPSED).reads_again(NADIA, "device").both_read().compares().confirms_all()
    assert lines(ward) == []
    ward.both_sign().both_look().starts()

    assert [json.loads(each)["edition"] for each in lines(ward)] == [2, 2]


@pytest.mark.parametrize("phase", [phase for phase in WAYS if phase not in ENDED])
def test_nothing_of_a_check_that_goes_on_is_exported(one_ward: Ward, phase: Phase) -> None:
    one_ward.at_stage(phase)

    told = [json.loads(each) for each in lines(one_ward)]
    assert one_ward.check not in {each.get("check") for each in told}


@pytest.mark.parametrize("phase", sorted(ENDED))
def test_however_it_ended_a_check_is_exported_and_open_to_whoever_reads_records(
    one_ward: Ward, phase: Phase
) -> None:
    one_ward.at_stage(phase)

    told = [json.loads(each) for each in lines(one_ward)]
    assert one_ward.check in {each.get("check") for each in told if each.get("how") == phase.value}
    outside = Viewer(person="somebody", unit="elsewhere", sees_unit=False, reads_records=True)
    assert sight(one_ward.state(), outside) is Sight.EVERYTHING


def test_stops_refused_baselines_and_starts_without_a_check_stand_beside_the_checks(ward: Ward) -> None:
    ward.at_stage(Phase.STARTED).stops(RUTH)
    ward.at_stage(Phase.SIGNING).stops(RUTH)
    told = [json.loads(each) for each in lines(ward)]

    # The second stop is of a bed at which a check goes on.
    assert [each["row"] for each in told if each["format"] == "countersign.outside-of-checks/1"] == ["stop"]


def test_a_stop_that_was_written_at_the_wrong_bed_is_no_stop_in_any_form(ward: Ward) -> None:
    ward.at_stage(Phase.STARTED).stops(RUTH).stops(RUTH)
    first, second = stops_exported(ward)
    infusion = ward.state().check.infusion
    with ward.site.store.read() as reader:
        stops = [each for each in reader.course(infusion) if each.event.kind == STOP]
    said = stopping.say_misplaced(ward.site, ward.act(RUTH), stops[0].position)

    assert isinstance(said, stopping.SaidMisplaced)
    assert stops_exported(ward) == [second] != [first]
    for form, begins in (("csv", '"stop"'), ("fhir", '"DetectedIssue"')):
        told = content(exports(ward, form=form)).decode()
        assert first not in told, form
        assert begins in told


def stops_exported(ward: Ward) -> list[str]:
    """When each was written that is exported."""
    told = [json.loads(each) for each in lines(ward)]
    return [each["at"] for each in told if each.get("row") == "stop"]


def test_pharmacist_and_quality_team_export_and_nobody_else(one_ward: Ward) -> None:
    one_ward.at_stage(Phase.STARTED)

    assert lines(one_ward, PETRA) == lines(one_ward, QUILL) != []
    for who in (NADIA, RUTH, IMOGEN, ADELE):
        assert exports(one_ward, who) == NotAllowed()


def test_at_the_host_too_id_and_secret_of_one_who_may_are_asked_for(one_ward: Ward, tmp_path: Path) -> None:
    one_ward.at_stage(Phase.STARTED)

    asked = at_host(one_ward)
    assert isinstance(asked, Asked)
    make_export(one_ward.site, asked, tmp_path, name="records.jsonl", tell=lambda _: None)
    assert (tmp_path / "records.jsonl").read_bytes().splitlines() == lines(one_ward)
    assert at_host(one_ward, secret="no such secret") == WrongCredential()
    assert at_host(one_ward, RUTH) == NotAllowed()


def test_the_table_has_a_head_and_a_row_a_finding(one_ward: Ward) -> None:
    one_ward.at_stage(Phase.STARTED)
    head, *rows = content(exports(one_ward, form="csv")).decode().splitlines()

    assert head.startswith('"row","check"')
    # A check without a finding has a row all the same.
    assert len(rows) == max(1, len(one_ward.state().findings))
    assert all(each.startswith(f'"check","{one_ward.check}"') for each in rows)


def test_days_are_the_sites_days(ward: Ward) -> None:
    # Five minutes past midnight on 3 May in Dublin is five past eleven on 2 May in Greenwich.
    ward.wait(timedelta(hours=10, minutes=50)).at_stage(Phase.STARTED)
    started_at = ward.state().started_at
    assert started_at is not None
    assert started_at.date() == DAY

    assert lines(ward) == []
    assert len(lines(ward, first=DAY + A_DAY, last=DAY + A_DAY)) == 2
    assert len(lines(ward, first=DAY, last=DAY + A_DAY)) == 2
    assert exports(ward, first=DAY, last=DAY - A_DAY) == WrongSpan()


def test_each_export_is_in_the_log_and_says_what_was_asked_for(ward: Ward) -> None:
    on_web = exports(ward, QUILL)
    at_host_asked = at_host(ward, PETRA, form="csv")
    exports(ward, RUTH)
    assert isinstance(on_web, Job)
    assert isinstance(at_host_asked, Asked)
    with ward.site.store.read() as reader:
        told = [each for each in reader.log_entries(after=0, limit=1000) if each.event.kind == "exported"]

    days = {"from_date": "2031-05-02", "to_date": "2031-05-02", "deidentified": False}
    assert [(each.by, vars(each.event)) for each in told] == [
        (QUILL.id, {"export": on_web.folder.name, "form": "jsonl", **days}),
        (PETRA.id, {"export": at_host_asked.export, "form": "csv", **days}),
    ]


@pytest.mark.parametrize("bed", ["7", "9"], ids=["at its bed", "at the bed to which it went"])
def test_whoever_reads_blind_in_an_infusion_exports_no_earlier_record_of_it(one_ward: Ward, bed: str) -> None:
    one_ward.opens(bed="7").joins().both_read().compares().abandons(TOMAS)
    before = exports(one_ward, PETRA)
    assert content(before) != b""
    assert isinstance(before, Job)
    assert collect_export(one_ward.site, one_ward.act(PETRA), PETRA.roles, before.folder.name) == before
    # A later check of the infusion, as none is opened yet: a set-up that was cleared passes nothing on.
    later = replace(one_ward.state().check, id="later", bed=bed, opened_at=one_ward.now)
    act = one_ward.act(PETRA)
    with one_ward.site.store.write() as tx:
        tx.add_check(later)
        opened = events.CheckOpened(
            check_kind=later.kind, unit=later.unit, bed=later.bed, rereadings_before=0
        )
        tx.append(opened, act=act, check=later.id, infusion=later.infusion)
        tx.add_participant(Participant(check=later.id, slot=1, person=PETRA.id, joined_at=act.now))
        tx.append(events.Joined(slot=1), act=act, check=later.id, infusion=later.infusion)

    assert lines(one_ward, PETRA) == []
    assert lines(one_ward, QUILL) != []
    # Nor takes it what was made before.
    collected = collect_export(one_ward.site, one_ward.act(PETRA), PETRA.roles, before.folder.name)
    assert collected == ReadsBlind(job=before)


def test_only_whoever_asked_finds_it_and_only_for_the_sites_time(one_ward: Ward) -> None:
    job = exports(one_ward, QUILL)
    assert isinstance(job, Job)
    site, export = one_ward.site, job.folder.name

    assert find_export(site, QUILL.id, export) == job
    assert find_export(site, PETRA.id, export) is None
    assert find_export(site, QUILL.id, f"../{job.folder.parent.name}/{export}") is None
    assert stat.S_IMODE(job.folder.stat().st_mode) == stat.S_IMODE(job.folder.parent.stat().st_mode) == 0o700
    asked_at = job.asked.at
    tend_exports(site, asked_at + timedelta(hours=24) - timedelta(seconds=1))
    assert find_export(site, QUILL.id, export) == job
    tend_exports(site, asked_at + timedelta(hours=24))
    assert find_export(site, QUILL.id, export) is None
    assert not job.folder.exists()


def looked(ward: Ward) -> set[str]:
    """Whoever of the two is said to have looked before, by an export."""
    loaded = ward.loaded()
    with ward.site.store.read() as reader:
        looks = earlier_looks(reader, loaded)
    return {each.person for each in looks if not each.check}


BOTH = replace(NADIA, roles=NADIA.roles | PETRA.roles)


def test_whoever_collected_what_names_people_is_said_to_have_looked_in_the_next_record(
    one_ward: Ward,
) -> None:
    one_ward.at_stage(Phase.STARTED)
    waits, bare, before = (
        exports(one_ward, BOTH),
        exports(one_ward, BOTH, first=DAY - 31 * A_DAY, deidentified=True),
        exports(one_ward, BOTH, first=DAY - A_DAY, last=DAY - A_DAY),
    )

    def collects(job: object, who: Somebody = BOTH, *, is_manifest: bool = False) -> None:
        assert isinstance(job, Job)
        export, act = job.folder.name, one_ward.act(who)
        assert collect_export(one_ward.site, act, who.roles, export, is_manifest=is_manifest) == job

    # Neither what says nothing of people, nor what has no check of this infusion, nor what is only asked for.
    collects(bare)
    collects(before)
    collects(waits, is_manifest=True)
    collects(exports(one_ward, PETRA), PETRA)
    one_ward.re_checks()
    assert looked(one_ward) == set()
    one_ward.abandons()
    collects(waits)
    one_ward.re_checks()
    assert looked(one_ward) == {NADIA.id}
    one_ward.both_read().compares()
    assert json.loads(frozen(one_ward))["rounds"][0]["independence"]["earlier_look"] is True


def test_what_is_taken_at_the_host_is_a_look_too_and_none_at_what_is_checked_later(one_ward: Ward) -> None:
    one_ward.at_stage(Phase.STARTED)
    with one_ward.site.store.write() as tx:
        tx.set_roles(NADIA.id, BOTH.roles)
        tx.append(events.SecurityNoted(person=NADIA.id, what="x"), at=one_ward.now)
    assert isinstance(at_host(one_ward, NADIA), Asked)
    one_ward.re_checks()
    assert looked(one_ward) == {NADIA.id}
    one_ward.opens(bed="30").joins()
    assert looked(one_ward) == set()
