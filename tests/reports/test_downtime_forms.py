"""The downtime forms, as pages and as what a reader aloud is given."""

import io
import json
import subprocess
from dataclasses import replace
from datetime import UTC, datetime
from functools import cache
from pathlib import Path
from typing import Any

import pikepdf
import pypdf
import pytest

from app.config import root
from app.records.canonical import canonical, digest
from app.records.fields import FIELDS
from app.records.kept import SiteData
from app.records.kinds import SET_UP
from app.records.rules import INVENTED, OBSERVATIONS, POLICY, STEPS, Rules
from app.records.sources import CAN_BE_PUT_RIGHT, Form, Source
from app.records.steps import OF_CHANGES
from app.reports.downtime_forms import forms_page, render_forms
from app.reports.paper_sheet import paper_sheet
from app.words.downtime import NO_BLIND_CHECK
from app.words.names import FOR_TRAINING, INVENTED_RULES
from app.workflow.rule_files import FILES
from tests.reports.test_read_aloud import figures
from tests.support.policies import ALSO_READ
from tests.support.unwanted import unwanted

SINCE = datetime(2031, 5, 2, 23, 30, tzinfo=UTC)


def rules(unit: str = "ward-4-east", **changes: dict[str, Any]) -> Rules:
    """The rules that come with the program, changed by kind."""
    published = {}
    for what, name in FILES.items():
        content = json.loads((root() / "seed_data" / name).read_text(encoding="utf-8"))
        written = canonical({**content, **changes.get(what.replace("-", "_"), {})})
        published[what] = SiteData(
            what=what,
            version=content["version"],
            content=written,
            digest=digest(written),
            in_force_from=SINCE,
        )
    return Rules(published=published, unit=unit)


@cache
def pdf() -> bytes:
    return render_forms(rules(), "Ward 4 East")


@cache
def pages() -> tuple[str, ...]:
    return tuple(" ".join(each.extract_text().split()) for each in pypdf.PdfReader(io.BytesIO(pdf())).pages)


def test_each_sheet_is_one_page_and_its_back_stays_empty() -> None:
    first, back, second, back_too, *together = pages()
    assert "Sheet 1, for the first nurse alone" in first
    assert "Sheet 2, for the second nurse alone" in second
    for each in (back, back_too):
        assert "This side stays empty" in each
        assert "Patient identifier" not in each
    assert ["Both sheets side by side" in together[0], "Safety steps, in this order" in together[1]] == [
        True
    ] * 2
    assert len(pages()) == 6


def test_the_same_is_asked_at_the_same_place_of_both() -> None:
    """As a fax has them: below the head, every dot of both sheets is the same."""
    content = {}
    for page in (1, 3):
        told = ["pdftoppm", "-r", "100", "-mono", "-f", str(page), "-l", str(page), "-y", "80", "-H", "1000"]
        made = subprocess.run(
            [*told, "-x", "0", "-W", "827", "-"], input=pdf(), check=True, capture_output=True
        )
        content[page] = made.stdout
    assert content[1] == content[3]
    assert content[1].count(b"\xff") > 100


def test_a_sheet_asks_for_every_field_that_the_pages_ask_for() -> None:
    sheet = paper_sheet(rules(policy={"also_read": list(ALSO_READ)}))
    rows = (*sheet.wristband, *sheet.chart, *sheet.short, *sheet.on_label, *sheet.settings, *sheet.monitor)
    # Before a start nothing has been given: totals are on no sheet.
    for source in CAN_BE_PUT_RIGHT:
        fields = FIELDS[source]
        asked = [one for row in rows for one in row.blanks.get(source, ())]
        # How the strength is written shows in what is written; a code is for a scanner.
        implied = {Source.LABEL: 1}.get(source, 0)
        wanted = [each for each in fields if each.form is not Form.CODE and not each.by_kind]
        assert len(asked) == len(wanted) - implied, source
    assert {each.label for each in rows} >= {"Order number", "Prescriber", "Device serial number"}


def test_a_sheet_is_one_page_also_where_the_site_asks_for_all_that_it_may() -> None:
    made = render_forms(rules(policy={"also_read": list(ALSO_READ)}), "Ward 4 East")
    assert len(pypdf.PdfReader(io.BytesIO(made)).pages) == len(pages())


def test_where_a_sheet_takes_two_pages_the_next_still_begins_on_a_paper_of_its_own() -> None:
    """Printed on both sides, an odd page is a front."""
    drugs: dict[str, Any] = {
        f"drug of a very long name, number {number}": {"concentrations": [], "limits": []}
        for number in range(8)
    }
    made = render_forms(rules(library={"drugs": drugs}), "Ward 4 East")
    texts = [each.extract_text() for each in pypdf.PdfReader(io.BytesIO(made)).pages]
    fronts = [
        number for number, text in enumerate(texts, 1) if "nurse alone" in text or "side by side" in text
    ]
    assert len(texts) > len(pages())
    assert [number % 2 for number in fronts] == [1, 1, 1]


def test_what_only_some_sites_ask_for_is_not_asked_elsewhere() -> None:
    assert "Order number" not in pages()[0]
    assert "Order number" in forms_page(rules(policy={"also_read": ["order_number"]}), "Ward 4 East")


@pytest.mark.parametrize(
    "says",
    [
        "HYDROmorphone",
        "SUFentanil",
        "sodium chloride 0.9%",
        "150 cm set, line of its own, no carrier",
        "mg/mL",
    ],
)
def test_a_sheet_offers_what_the_site_has(says: str) -> None:
    assert says in pages()[0]


def test_units_and_ranges_stand_on_the_sheet_and_no_value_that_would_tell_what_to_expect() -> None:
    assert "Lockout, 1 min to 24 h" in pages()[0]
    assert "Limit, 1 h to 24 h" in pages()[0]
    for limit in ("0.4 mg", "12 min", "8 mg", "0.2 mg/mL"):
        assert limit not in pages()[0]
        assert limit in pages()[4]


def test_too_many_drugs_for_boxes_are_written_in() -> None:
    library: dict[str, Any] = {
        "drugs": {f"drug {number}": {"concentrations": [], "limits": []} for number in range(9)}
    }
    (drug,) = [each for each in paper_sheet(rules(library=library)).on_label if each.label == "Drug"]
    (blank,) = drug.blanks[Source.ORDER]
    assert (blank.ticks, blank.line) == ((), True)


def test_every_page_says_by_which_rules_and_that_it_is_no_blind_check() -> None:
    made = rules()
    for page in pages():
        assert INVENTED_RULES in page
        # The protocol of observations is on none of them.
        for each in (made.published[what] for what in FILES if what != OBSERVATIONS):
            groups = " ".join(each.digest[place : place + 4] for place in range(0, 16, 4))
            # In the site's zone it is the next day already.
            assert f"{each.version} ({groups}) of 3 May 2031" in page
    for page in (pages()[0], pages()[2], pages()[4]):
        assert NO_BLIND_CHECK in page
        assert "supports and never replaces the device's manual" in page


def test_under_a_sites_own_rules_nothing_is_said_of_invented_ones() -> None:
    made = rules()
    own = {what: replace(each, content=_own(each.content)) for what, each in made.published.items()}
    page = forms_page(Rules(published=own, unit="ward-4-east"), "Ward 4 East")
    assert INVENTED_RULES not in page


def test_in_a_copy_for_training_every_paper_says_so() -> None:
    made = forms_page(rules(), "Ward 4 East", training=True)
    assert made.count(FOR_TRAINING) == len(pages())
    assert FOR_TRAINING not in forms_page(rules(), "Ward 4 East")


def _own(content: bytes) -> bytes:
    told = json.loads(content)
    del told[INVENTED]
    return canonical(told)


def test_the_steps_of_both_plans_stand_in_the_sites_order_and_say_when_they_are_asked() -> None:
    of_set_up = [
        each
        for each in rules().content(STEPS)["steps"]
        if {*SET_UP.plans} & {*each["plans"]} and each.get("only_if") not in OF_CHANGES
    ]
    steps = [each["do"] for each in of_set_up]
    places = [pages()[5].find(each) for each in steps]
    assert -1 not in places
    assert places == sorted(places)
    assert "On a line of its own: Now that the line is traced" in pages()[5]
    assert "If a syringe was replaced: A new line set is taken" in pages()[5]
    assert "If a check was given up here: An earlier check at this bed was given up" in pages()[5]
    assert "no start unless sedation 0 or 1, at least 10 /min and 92 %" in pages()[5]


def test_the_same_rules_make_the_same_bytes_and_other_rules_others() -> None:
    assert render_forms(rules(), "Ward 4 East") == pdf()
    assert forms_page(rules(policy={"adult_age": 16}), "Ward 4 East") != forms_page(rules(), "Ward 4 East")
    assert rules(policy={"adult_age": 16}).published[POLICY].digest[:4] in forms_page(
        rules(policy={"adult_age": 16}), "Ward 4 East"
    )


def test_it_is_tagged_and_archival_and_every_figure_has_words() -> None:
    with pikepdf.open(io.BytesIO(pdf())) as read:
        assert read.Root.MarkInfo.Marked
        assert "/StructTreeRoot" in read.Root
        assert b"pdfaid" in read.Root.Metadata.read_bytes()
    assert "" not in figures(pdf())


def test_it_is_black_on_white() -> None:
    colours = set()
    for page in pypdf.PdfReader(io.BytesIO(pdf())).pages:
        contents = page.get_contents()
        assert contents is not None
        for operands, operator in contents.operations:
            if operator in (b"rg", b"RG", b"sc", b"SC", b"scn", b"SCN", b"g", b"G", b"k", b"K"):
                colours.add(tuple(str(each) for each in operands))
    assert {each for colour in colours for each in colour if not each.startswith("/")} <= {"0", "1"}


def test_no_code_and_no_other_word_stands_on_it() -> None:
    assert [each for page in pages() for each in unwanted(page)] == []


def test_the_fonts_and_template_are_the_shared_ones(tmp_path: Path) -> None:
    (tmp_path / "forms.pdf").write_bytes(pdf())
    told = subprocess.run(
        ["pdffonts", tmp_path / "forms.pdf"], check=True, capture_output=True, text=True
    ).stdout
    names = {line.split()[0].partition("+")[2] for line in told.splitlines()[2:]}
    assert names == {"Countersign-Text", "Countersign-Text-Bold"}
