"""The account on a record and in an export: the figures of the engine, and no others."""

import csv
import io
import json
from typing import Any

import pytest

from app.accounting import AccountCase, balance, read_account
from app.records.canonical import canonical, digest
from app.records.state import Phase
from app.reports.account_statement import statements_of
from app.reports.export import Exported, csv_lines
from app.reports.record import RecordSignature, record_page
from app.words.account import NOT_COUNTED, NOT_KNOWN, VERDICTS
from app.workflow.looking import RecordSeen, see_record
from tests.accounting.builders import EXAMPLES
from tests.factories.answers import SHORT
from tests.reports.told import signed
from tests.story.people import NADIA
from tests.story.ward import Ward


def result_of(name: str) -> dict[str, Any]:
    (path,) = EXAMPLES.glob(f"{name}*.case.json")
    read = read_account(path.read_text(encoding="utf-8"))
    assert isinstance(read, AccountCase), read
    return dict(balance(read).as_json())


def comparison(result: dict[str, Any] | None) -> dict[str, Any]:
    return {"account": {"entries": [], "begun": "", "policy": {}, "result": result}}


def told(statement: Any) -> dict[str, tuple[str, str]]:  # noqa: ANN401  # a statement
    return {row.label: tuple(line.text for line in row.lines) for row in statement.rows}


def test_each_place_has_the_engines_figure_in_volume_and_in_mass() -> None:
    result = result_of("01")
    (shown,) = statements_of(comparison(result)["account"])
    places = result["syringes"][0]

    assert shown.verdict == VERDICTS["balances"]
    assert told(shown)["Given, by the device's totals"] == (
        places["volume"]["delivered_by_device"]["shown"],
        places["amount"]["delivered_by_device"]["shown"],
    )


def test_where_nothing_went_nothing_is_said() -> None:
    (shown,) = statements_of(comparison(result_of("01"))["account"])

    assert "Returned to pharmacy" not in told(shown)
    assert "Left in it" in told(shown)


def test_what_does_not_add_up_says_so_and_by_how_much() -> None:
    result = result_of("04")
    shown = statements_of(comparison(result)["account"])

    assert VERDICTS["unexplained"] in {each.verdict for each in shown}
    assert told(shown[0])["Difference"][0] == result["syringes"][0]["volume"]["difference"]["shown"]


def test_of_several_syringes_all_are_told_together_as_well() -> None:
    results = [json.loads(path.read_text(encoding="utf-8")) for path in EXAMPLES.glob("*.result.json")]
    several = [each for each in results if len(each.get("syringes", ())) > 1]

    for each in several:
        shown = statements_of(comparison(each)["account"])
        assert [one.title for one in shown][-1] == "All syringes"
        assert len(shown) == len(each["syringes"]) + 1
    assert several


def test_what_nobody_can_know_is_said_to_be_not_known() -> None:
    results = [json.loads(path.read_text(encoding="utf-8")) for path in EXAMPLES.glob("*.result.json")]
    unknown = [
        one
        for each in results
        if "syringes" in each and any(s["volume"]["difference"] is None for s in each["syringes"])
        for one in statements_of(comparison(each)["account"])
        if one.verdict == NOT_COUNTED
    ]

    assert unknown
    assert all(NOT_KNOWN in told(each)["Difference"] for each in unknown)


@pytest.mark.parametrize("without", [{}, {"account": None}, comparison(None)])
def test_without_an_account_there_is_no_statement(without: dict[str, Any]) -> None:
    assert statements_of(without.get("account")) == ()


@pytest.fixture
def document(one_ward: Ward) -> dict[str, Any]:
    """Of a re-check in which less is left than predicted, counted twice."""
    ward = one_ward.at_stage(Phase.STARTED).re_checks().both_read(SHORT).compares()
    ward.recounts().both_read(SHORT).compares()
    record = see_record(ward.site, ward.act(NADIA), ward.check)
    assert isinstance(record, RecordSeen)
    return dict(json.loads(record.frozen.document))


def test_the_record_shows_the_statement_and_that_it_is_open(document: dict[str, Any]) -> None:
    signatures: tuple[RecordSignature, ...] = signed(document)
    page = record_page(document, digest=digest(canonical(document)), signatures=signatures)

    assert "The account of the infusion" in page
    assert "The account is open" in page
    assert "Device totals" in page
    assert "Look at the patient now: sedation and breathing; pause if in doubt." in page
    assert VERDICTS["does-not-fit"] in page
    assert "counted together: not blind" in page


def test_an_export_has_what_the_account_came_to(document: dict[str, Any]) -> None:
    content = b"".join(csv_lines(iter([Exported(record=canonical(document))]))).decode()
    rows = list(csv.DictReader(io.StringIO(content, newline="")))

    assert {(each["account"], each["account_left"]) for each in rows} == {("stopped", "9")}
    # 30 mL, of which 2.4 mL were primed and 9 mL are left.
    assert {each["account_difference"] for each in rows} == {"18.6"}
