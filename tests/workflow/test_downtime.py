"""What runs, on paper: closed to whoever reads, and a look at each infusion on it."""

import io
import json

import pypdf
import pytest

from app.records.rules import PACKS
from app.records.state import Phase
from app.site.installation import find_installation, founded
from app.site.loading import rules_in_force
from app.words.names import FOR_TRAINING
from app.workflow.downtime import SettingsOnPaper, settings_on_paper
from app.workflow.refusals import NotAllowed, ReadsBlind
from tests.factories.answers import answers
from tests.story.people import ADELE, IMOGEN, INES, NADIA, PETRA, QUILL, RUTH, TOMAS, Somebody
from tests.story.ward import Ward


def printed(ward: Ward, who: Somebody) -> str:
    given = settings_on_paper(ward.site, ward.act(who))
    assert isinstance(given, SettingsOnPaper), given
    pages = pypdf.PdfReader(io.BytesIO(given.pdf)).pages
    return " ".join(" ".join(page.extract_text() for page in pages).split())


def looks(ward: Ward) -> list[tuple[str, str, str]]:
    with ward.site.store.read() as reader:
        return [(row["person"], row["check"], row["what"]) for row in reader.rows("access")]


def test_it_shows_by_which_settings_each_infusion_of_the_unit_runs(one_ward: Ward) -> None:
    one_ward.at_stage(Phase.STARTED)
    bed = one_ward.state().check.bed
    one_ward.starts_without_check(bed="30")
    text = printed(one_ward, RUTH)
    with one_ward.site.store.read() as reader:
        packs = rules_in_force(reader, one_ward.now).content(PACKS)["packs"]
    for says in (
        f"Bed {bed}",
        "Running, since",
        "Patient identifier (wristband) DM-40417",
        "Demand dose (device) 0.2 mg",
        "Limit (device) 2 mg in 4 h",
        "Concentration (device) 6 mg in 30 mL",
        "Lot (label) LOT-7",
        "Use by (label) 31 December 2031",
        packs[0]["words"],
        "Bed 30 Running without a check, since",
        "nothing is known of what runs",
        "CLOSED TO WHOEVER CHECKS",
        "Whoever has seen this sheet does not read blind",
        "Invented rules: never for a patient",
        f"for {RUTH.printed_name}",
    ):
        assert says in text, says
    assert "none" not in text.replace("none of", "").split()


def test_what_was_stopped_and_what_runs_elsewhere_is_not_on_it(one_ward: Ward) -> None:
    one_ward.at_stage(Phase.STARTED).stops()
    assert "Nothing runs here that is known." in printed(one_ward, RUTH)
    one_ward.at_stage(Phase.STARTED)
    assert "Nothing runs here that is known." in printed(one_ward, INES)


def test_it_is_a_look_at_each_infusion_on_it(ward: Ward) -> None:
    checks = [ward.at_stage(Phase.STARTED).check, ward.at_stage(Phase.STARTED).check]
    ward.starts_without_check(bed="30")
    before = len(looks(ward))
    printed(ward, IMOGEN)
    assert sorted(looks(ward)[before:]) == sorted((IMOGEN.id, check, "settings on paper") for check in checks)


def test_whoever_printed_it_is_said_to_have_looked_in_the_next_record(one_ward: Ward) -> None:
    one_ward.at_stage(Phase.STARTED)
    printed(one_ward, NADIA)
    one_ward.re_checks().both_read().compares()
    with one_ward.site.store.read() as reader:
        (frozen,) = reader.frozen_records(one_ward.check)
    assert json.loads(frozen.document)["rounds"][0]["independence"]["earlier_look"] is True


@pytest.mark.parametrize("handed_in", [False, True])
def test_it_is_closed_to_whoever_reads_in_any_check(ward: Ward, *, handed_in: bool) -> None:
    """Also where they read at another bed: what they learn there is for this one."""
    ward.at_stage(Phase.STARTED)
    ward.opens(bed="30").joins()
    if handed_in:
        ward.reads(NADIA)
    before = looks(ward)
    for who in (NADIA, TOMAS):
        assert settings_on_paper(ward.site, ward.act(who)) == ReadsBlind()
    assert looks(ward) == before
    assert "0.2 mg" in printed(ward, RUTH)


def test_it_opens_once_their_readings_agree_and_not_while_they_differ(ward: Ward) -> None:
    ward.at_stage(Phase.STARTED)
    ward.re_checks().both_read(answers(), answers(device={"lockout": "7 min"})).compares()
    assert settings_on_paper(ward.site, ward.act(NADIA)) == ReadsBlind()
    ward.reads_again(NADIA).both_read().compares()
    assert "0.2 mg" in printed(ward, NADIA)


def test_what_is_read_in_an_open_check_never_stands_on_it(ward: Ward) -> None:
    ward.at_stage(Phase.STARTED)
    before = printed(ward, RUTH)
    ward.re_checks().reads(NADIA, answers(device={"demand_dose": "0.7 mg"}))
    assert "0.7 mg" not in printed(ward, RUTH)
    assert "0.2 mg" in before


def test_it_is_for_whoever_may_see_the_units_state(ward: Ward) -> None:
    ward.at_stage(Phase.STARTED)
    assert settings_on_paper(ward.site, ward.act(ADELE)) == NotAllowed()
    assert settings_on_paper(ward.site, ward.act(QUILL)) == NotAllowed()
    assert isinstance(settings_on_paper(ward.site, ward.act(PETRA)), SettingsOnPaper)


def test_in_a_copy_for_training_it_says_so(one_ward: Ward) -> None:
    assert FOR_TRAINING not in printed(one_ward, RUTH)
    with one_ward.site.store.write() as tx:
        original = find_installation(tx)
        assert original is not None
        copy = founded(one_ward.site.key, "a copy", copy_of=original.installation)
        tx.append(copy, at=one_ward.now)
    assert FOR_TRAINING in printed(one_ward, RUTH)
