"""De-identified exports: nothing by which anybody is known survives, in any form, and the rest does."""

import csv
import io
import json
import zipfile
from dataclasses import replace
from datetime import date, datetime, timedelta
from pathlib import Path
from typing import Any

import pyarrow as pa
import pytest
from pyarrow import parquet

from app.records.export_events import Exported
from app.records.state import Phase
from app.reports.manifest import SignedManifest, manifest_of, read_manifest
from app.site.installation import find_installation
from app.workflow import export_apart
from app.workflow.export_jobs import Job
from app.workflow.exporting import Span, TooFewDays, Wanted, ask_for_export
from tests.factories.answers import answers, changed
from tests.story.people import EVERYBODY, NADIA, QUILL, RUTH, Somebody
from tests.story.ward import DIFFERING, Ward
from tests.support.policies import publish_policy

FORMS = ("csv", "jsonl", "parquet", "fhir")
DEVICE = "SN0042"
WORDS = "Zebediah Quirke, DM-40417, was asleep"
FIRST, LAST = date(2029, 1, 1), date(2031, 12, 31)


@pytest.fixture(autouse=True)
def _made_here(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(export_apart, "start", export_apart.make_here)


def export(ward: Ward, form: str, *, deidentified: bool, who: Somebody = QUILL) -> Path:
    wanted = Wanted(span=Span(first=FIRST, last=LAST), form=form, deidentified=deidentified)
    job = ask_for_export(ward.site, ward.act(who), QUILL.roles, wanted)
    assert isinstance(job, Job)
    made = job.find_file()
    assert made is not None
    return made


def tables(file: Path) -> list[pa.Table]:
    """Each file of a packed folder, with the columns that its name is."""
    with zipfile.ZipFile(file) as packed:
        return [parquet.read_table(pa.BufferReader(packed.read(name))) for name in sorted(packed.namelist())]


def text(file: Path) -> str:
    """All that it says, as one text."""
    if file.suffix != ".zip":
        return file.read_text(encoding="utf-8")
    with zipfile.ZipFile(file) as packed:
        names = " ".join(packed.namelist())
    return names + json.dumps([table.to_pylist() for table in tables(file)], default=str)


@pytest.fixture
def lived(one_ward: Ward) -> Ward:
    """Checks that ended in several ways, with free text, findings and a stop."""
    one_ward.at_stage(Phase.STARTED).stops(RUTH, why=WORDS)
    one_ward.at_stage(Phase.DISPUTED).asks_for_help().takes_help(RUTH).settles_help("abandon")
    publish_policy(one_ward.site, one_ward.now, version="asks", also_read=["device_serial"])
    one_ward.opens().joins()
    one_ward.both_read(*(changed(each, device={"device_serial": DEVICE}) for each in (DIFFERING, answers())))
    one_ward.compares().abandons()
    return one_ward


def identifiers(ward: Ward) -> set[str]:
    """Whatever tells who, whose, where or which day."""
    read = answers()
    of_patient = {read["wristband"][name] for name in ("identifier", "birth_date")}
    with ward.site.store.read() as reader:
        checks = [check for _, check in reader.opened_checks(after=0)]
        found = [each for each in map(reader.find_check, checks) if each is not None]
        installation = find_installation(reader)
        stored = {row.patient for each in found for row in reader.ended_rows(each.id)}
    ids = {each.id for each in found} | {each.infusion for each in found}
    assert installation is not None
    people = {name for each in EVERYBODY for name in (each.id, each.login, each.newcomer.person.printed_name)}
    staff = {each.newcomer.person.staff_number for each in EVERYBODY}
    places = {"ward-4-east", "Ward 4 East", "Larkmoor", installation.installation}
    return (
        of_patient | ids | people | staff | places | {WORDS, DEVICE, "Zebediah", "2031-05"} | (stored - {""})
    )


@pytest.mark.parametrize("form", FORMS)
def test_no_identifier_survives(lived: Ward, form: str) -> None:
    made = export(lived, form, deidentified=True)
    told, manifest = made.name + text(made), manifest_of(made).read_text(encoding="utf-8")

    assert [each for each in identifiers(lived) if each in told] == []
    # It says when it was asked for.
    assert [each for each in identifiers(lived) - {"2031-05"} if each in manifest] == []


@pytest.mark.parametrize("form", FORMS)
def test_the_same_identifiers_are_found_in_an_identified_export(lived: Ward, form: str) -> None:
    told = text(export(lived, form, deidentified=False))

    assert "2031-05" in told
    assert "ward-4-east" in told
    assert DEVICE in told


def test_the_manifest_names_neither_who_asked_nor_the_beds_that_were_left_out(lived: Ward) -> None:
    lived.opens(bed="7").joins()
    files = [export(lived, "csv", deidentified=each, who=NADIA) for each in (False, True)]
    read = [read_manifest(manifest_of(each).read_bytes()) for each in files]
    known, bared = (each.manifest for each in read if isinstance(each, SignedManifest))

    assert ("ward-4-east", "7") in known.left_out
    assert bared.left_out == (("", ""),) * len(known.left_out)
    assert known.asked_by == NADIA.id
    people = {row[name] for row in rows(files[1]) for name in ("nurse_a", "nurse_b", "by")}
    assert (len(bared.asked_by), bared.asked_by in people) == (16, False)


@pytest.mark.parametrize(("before", "after"), [(29, 0), (0, 0), (0, 400)])
def test_of_fewer_than_31_days_up_to_today_none_is_made(one_ward: Ward, before: int, after: int) -> None:
    today = one_ward.now.date()
    span = Span(first=today - timedelta(days=before), last=today + timedelta(days=after))
    wanted = Wanted(span=span, form="csv", deidentified=True)

    assert ask_for_export(one_ward.site, one_ward.act(QUILL), QUILL.roles, wanted) == TooFewDays()
    with one_ward.site.store.read() as reader:
        assert reader.entries_of_kind(Exported.kind) == ()
    enough = replace(wanted, span=replace(span, first=today - timedelta(days=30)))
    assert isinstance(ask_for_export(one_ward.site, one_ward.act(QUILL), QUILL.roles, enough), Job)


def rows(file: Path) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(file.read_text(encoding="utf-8"), newline=""), strict=True))


def moved(before: str, after: str) -> int:
    then, now = (datetime.fromisoformat(each) for each in (before, after))
    assert (then.hour, then.minute, then.second) == (now.hour, now.minute, now.second)
    return (then - now).days


def test_days_are_moved_alike_for_one_patient_and_durations_stay(lived: Ward) -> None:
    known, bared = (rows(export(lived, "csv", deidentified=each)) for each in (False, True))
    days: dict[str, set[int]] = {}
    for before, after in zip(known, bared, strict=True):
        patient = before["patient"] or before["infusion"]
        times = [name for name in before if name.endswith("_at") and name != "stated_at"] + ["at"]
        days.setdefault(patient, set()).update(moved(before[n], after[n]) for n in times if before[n])
        kept = ["row", "kind", "drug", "how", "severity", "code", "seconds_to_ended", "seconds_to_settle"]
        assert [before[name] for name in kept] == [after[name] for name in kept]

    assert {len(each) for each in days.values()} == {1}
    assert all(1 <= each <= 364 for some in days.values() for each in some)


def test_a_pseudonym_is_the_same_in_each_form_and_each_export(lived: Ward) -> None:
    def of(column: str) -> list[str]:
        return [
            each[column] for each in rows(export(lived, "csv", deidentified=True)) if each["row"] != "stop"
        ]

    lines = [json.loads(each) for each in text(export(lived, "jsonl", deidentified=True)).splitlines()]
    checks = {each["check"]: each for each in lines if each["format"] == "countersign.ended-check/1"}
    assert set(of("check")) == set(checks)
    assert of("check") == of("check")
    for name, also in (("patient", "patient"), ("nurse_a", "pseudonym_a"), ("infusion", "infusion")):
        assert {check[also] for check in checks.values()} == set(of(name))


def test_units_and_beds_stand_as_the_policy_says(lived: Ward) -> None:
    assert {each["bed"] for each in rows(export(lived, "csv", deidentified=True))} == {""}
    publish_policy(lived.site, lived.now, deidentified_units="kept", deidentified_beds="pseudonym")
    lived.wait()
    told = rows(export(lived, "csv", deidentified=True))

    assert {each["unit"] for each in told} == {"ward-4-east"}
    assert all(len(each["bed"]) == 16 for each in told)


def test_a_month_is_a_file_and_all_of_them_are_the_table(lived: Ward) -> None:
    known = rows(export(lived, "csv", deidentified=False))
    whole: list[dict[str, Any]] = [
        row for table in tables(export(lived, "parquet", deidentified=False)) for row in table.to_pylist()
    ]

    assert [row["check"] for row in whole] == [row["check"] for row in known]
    assert [row["code"] or "" for row in whole] == [row["code"] for row in known]
    assert {type(row["rounds"]) for row in whole if row["row"] != "stop"} == {int}
    assert {row["ended_at"].tzname() for row in whole if row["ended_at"]} == {"UTC"}
