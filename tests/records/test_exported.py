"""An ended check as it is exported: each column of its rows is one of the table, or has its reason."""

import json
from dataclasses import fields
from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

from app.records.export_events import Exported, export_look
from app.records.exported import Ended
from app.records.exported_columns import COLUMNS, Bared, Holds
from app.records.kept_rows import EndedRow, FindingRow, SettledRow
from tests.factories.findings import CAUTION
from tests.records.test_flat_rows import rows
from tests.story.events import CHECK, Story

# What stands in another table's columns already, or says where a row stands.
_OF_PLACE = {"check", "infusion", "unit", "bed", "kind", "drug", "pseudonym_a", "pseudonym_b"}


def test_every_column_of_the_rows_is_exported_under_one_name() -> None:
    names = [each.name for each in COLUMNS]
    assert len(set(names)) == len(names)
    told = {each.of for each in COLUMNS}
    assert {f"ended_check.{each.name}" for each in fields(EndedRow)} <= told
    for table, row in (("finding", FindingRow), ("finding_settled", SettledRow)):
        own = {each.name for each in fields(row)} - _OF_PLACE
        missing = {name for name in own if not any(of.endswith(f".{name}") for of in told)}
        assert missing == set(), table


def test_what_names_somebody_or_is_in_their_words_is_left_out_where_nobody_may_be_known() -> None:
    bared = {each.name: each.bared for each in COLUMNS}

    for name in ("name_a", "staff_number_a", "name_b", "staff_number_b", "name_by", "stated_at", "why"):
        assert bared[name] is Bared.LEFT_OUT
    for name in ("check", "infusion", "patient", "nurse_a", "nurse_b", "by"):
        assert bared[name] is Bared.PSEUDONYM
    assert {each.bared for each in COLUMNS if each.holds is Holds.TIME} == {Bared.SHIFTED}


def test_an_ended_check_is_one_document_with_its_findings() -> None:
    made = rows(Story().found(CAUTION).abandoned())
    assert made.ended is not None
    told = Ended(
        row=made.ended,
        findings=made.findings,
        settled=made.settled,
        record=b"",
        followed=b"",
        followed_digest="",
    ).document()

    assert json.loads(json.dumps(told)) == told
    assert (told["check"], told["how"], told["record_format"]) == (CHECK.id, "abandoned", "")
    assert told["ended_at"] == made.ended.ended_at.isoformat()
    (found,) = told["findings"]
    assert (found["code"], found["settled"]) == (CAUTION.code, "not settled")
    assert not found.keys() & {"infusion", "unit", "drug", "pseudonym_a"}
    unsettled = Ended(
        row=made.ended, findings=made.findings, settled=(), record=b"", followed=b"", followed_digest=""
    )
    assert "settled" not in unsettled.document()["findings"][0]


def test_an_export_has_what_ended_on_one_of_its_days_at_the_site() -> None:
    told = Exported(
        export="e-1", form="jsonl", from_date="2031-05-02", to_date="2031-05-03", deidentified=False
    )
    zone = ZoneInfo("Europe/Dublin")
    # In May the site is an hour ahead: its 2 May began at 23:00 the evening before.
    begins = datetime(2031, 5, 1, 23, tzinfo=UTC)
    instant = timedelta(microseconds=1)

    assert [told.has(begins - instant, zone), told.has(begins, zone)] == [False, True]
    ends = begins + timedelta(days=2)
    assert [told.has(ends - instant, zone), told.has(ends, zone)] == [True, False]
    assert export_look(told.export) == "export: e-1"
