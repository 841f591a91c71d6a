"""Rows of the record that hold more than one answer, or of which one nurse suffices."""

import re

import pytest

from app.records.fields import FIELDS
from app.records.reading import Answers
from app.records.sources import NONE
from app.reports.record import record_page
from app.reports.shown_fields import EVERYTHING
from tests.factories.answers import answers
from tests.reports import told
from tests.support.html import parse_html

_LIMITS = {"limit_amount": "1 mg", "limit_window": "1 h", "limit_2_amount": "2 mg", "limit_2_window": "4 h"}
_BOLUS = {
    "staff_bolus_dose": "0.4 mg",
    "staff_bolus_interval": "10 min",
    "staff_bolus_most": "2 mg",
    "staff_bolus_window": "4 h",
}
_NOT_ASKED = dict.fromkeys(("other_opioids", "neuraxial_opioid", "sleep_apnea", "weight"))


@pytest.mark.parametrize(
    ("first", "second", "sentences"),
    [
        (
            answers(order={**_LIMITS, **_BOLUS}, device=_LIMITS),
            None,
            (
                "Limit 1 mg in 1 h order and device 2 mg in 4 h order and device AGREES",
                "0.4 mg order every 10 min, order at most 2 mg in 4 h order AGREES",
            ),
        ),
        (
            answers(
                device={
                    "strength": "in-millilitres",
                    "amount": None,
                    "volume": None,
                    "demand_dose": "1 mL",
                    "limit_amount": "10 mL",
                }
            ),
            None,
            ("0.2 mg order 1 mL (0.2 mg) device AGREES", "10 mL (2 mg) in 4 h device", "takes doses in mL"),
        ),
        (
            answers(chart={"sedatives": "charted"}),
            answers(chart=_NOT_ASKED, label={"lot": None}),
            ("Lot 1st LOT-7", "Weight 1st 82 kg", "1st chart Charted 2nd chart None RISKIER COUNTS"),
        ),
    ],
    ids=["limits", "in-ml", "one-suffices"],
)
def test_what_the_engine_reads_of_one_row_is_said_whole(
    first: Answers, second: Answers | None, sentences: tuple[str, ...]
) -> None:
    made = told.Told().begun().read(first, second)
    made.answered("patient-at-risk", reason="watched-closely")
    document = made.finished().document()
    page = record_page(document, digest=told.digest_of(document), signatures=told.signed(document))
    words = " ".join("".join(parse_html(re.sub("<title>Sign [^<]*</title>", "", page)).itertext()).split())

    for each in sentences:
        assert each in words
    # What nobody ordered has no row.
    assert ("Bolus given by staff" in words) is ("at most 2 mg" in sentences[-1])


@pytest.mark.parametrize(
    ("name", "words"),
    sorted({(each.name, each.none) for fields in FIELDS.values() for each in fields if each.may_be_none}),
)
def test_none_is_said_on_paper_as_whoever_read_it_chose_it(name: str, words: str) -> None:
    """A volume that nobody could read, or a patient who cannot say, is not *none*: that would be zero."""
    (shown,) = (each for each in EVERYTHING if each.row.name == name)
    assert shown.said({name: NONE}) == words


def test_so_it_is_beside_what_differed() -> None:
    made = told.Told().begun().read(answers(), answers(device={"loading_dose": "1 mg"})).read(answers())
    document = made.finished().document()
    page = record_page(document, digest=told.digest_of(document), signatures=told.signed(document))
    words = " ".join("".join(parse_html(page).itertext()).split())
    assert "order No loading dose 1st device No loading dose 2nd device 1 mg" in words
