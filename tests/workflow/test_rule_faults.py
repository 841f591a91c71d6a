"""Rules by which no check could be judged are refused, each fault with its file, its place and its reason."""

from collections.abc import Callable
from fractions import Fraction
from pathlib import Path
from typing import Any

import pytest
from jsonschema import Draft202012Validator

from app.quantities import show_number
from app.workflow.rule_faults import faults_of, schema_of, unit_ids
from app.workflow.rule_files import FILES, RuleFiles, RulesWrong, read_rules
from tests.factories.invented_site import Files, changed_rules
from tests.factories.seed import seeded_rules
from tests.workflow.draw_rules import PLACE, drawn

Change = Callable[[Files], object]
BOUNDS = ("hard_low", "soft_low", "soft_high", "hard_high")


def faults(folder: Path) -> list[str]:
    files = read_rules(folder)
    found = files.faults if isinstance(files, RulesWrong) else faults_of(files, unit_ids(files))
    return [each.says for each in found]


def without(name: str, *path: str | int) -> Change:
    return lambda files: _place(files[name], path[:-1]).pop(path[-1])


def put(name: str, *path: str | int, to: object) -> Change:
    def change(files: Files) -> None:
        if path:
            _place(files[name], path[:-1])[path[-1]] = to
        else:
            files[name] = to

    return change


def _place(content: Any, path: tuple[str | int, ...]) -> Any:  # noqa: ANN401  # any JSON value
    for key in path:
        content = content[key]
    return content


def another_spelling(files: Files) -> None:
    drugs = files["library.json"]["drugs"]
    drugs["hydro-Morphone"] = drugs["HYDROmorphone"]


def without_a_step(name: str) -> Change:
    def change(files: Files) -> None:
        steps = files["safety_steps.json"]
        steps["steps"] = [each for each in steps["steps"] if each["id"] != name]

    return change


MORPHINE = ("library.json", "drugs", "morphine")
DEMAND = (*MORPHINE, "limits", 0)


def test_the_rules_that_come_with_the_program_can_be_published(tmp_path: Path) -> None:
    assert faults(changed_rules(tmp_path / "rules")) == []


@pytest.mark.parametrize(
    ("change", "says"),
    [
        (
            put(*DEMAND, "soft_high", to="4 mg"),
            "library.json: drugs.morphine.limits.0: demand dose: soft high lies",
        ),
        (put(*DEMAND, "soft_low", to="2.5 mg"), "demand dose: soft low lies above soft high"),
        (put(*MORPHINE, "limits", 1, "hard_low", to="7 min"), "lockout: hard low lies above soft low"),
        (put(*MORPHINE, "limits", 1, "hard_high", to="90 min"), "lockout: from 1 to 60 min is sensible"),
        (
            another_spelling,
            "drugs: HYDROmorphone and hydro-Morphone are two spellings of one",
        ),
        (put(*MORPHINE, "limits", 3, "for", to="not-tolerant"), "continuous rate: is bounded twice"),
        (put("units.json", to=[]), "units.json: name one at least"),
        (put("library.json", "drugs", to={}), "library.json: drugs: name one at least"),
        (without("library.json", "drugs"), "library.json: 'drugs' is missing"),
        (put(*MORPHINE, "concentrations", to=[]), "drugs.morphine.concentrations: name one at least"),
        (put("policy.json", "clearance_minutes", to=-5), "clearance_minutes: -5 lies below 1, the lowest"),
        (put("policy.json", "clearance_minutes", to=True), "clearance_minutes: this must be a whole number"),
        (
            put("policy.json", "adult_age", to=0),
            "policy.json: adult_age: 0 lies below 16, the lowest",
        ),
        (without("policy.json", "clearance_minutes"), "policy.json: 'clearance_minutes' is missing"),
        (put("policy.json", "clearence_minutes", to=15), "nothing is known by the name clearence_minutes"),
        (
            without_a_step("baseline"),
            "safety_steps.json: steps: with-carrier: no step writes down the baseline",
        ),
        (put("safety_steps.json", "steps", to=[]), "safety_steps.json: steps: name one at least"),
        (put("safety_steps.json", "steps", 1, "id", to="baseline"), "the step baseline stands twice"),
        (put("safety_steps.json", "steps", 1, "entry", to="primed-volume"), "more than one step writes down"),
        (put("policy.json", "engine", "prime_tolerance", to="0.30 mL"), "engine.prime_tolerance"),
        (put("policy.json", "engine", "smallest_volume_step", to="0.01 ml"), "engine.smallest_volume_step"),
        (put("policy.json", "engine", "no_such_rule", to=True), "nothing is known by the name no_such_rule"),
        (put("policy.json", "engine", "carrier_refused", to=["Sodium chloride 0.9%"]), "may run, too"),
        (put("policy.json", "baseline", "lowest_spo2", to="92"), "policy.json: baseline.lowest_spo2"),
        (put("policy.json", "baseline", "may_start_at", to=["4"]), "may_start_at: names a level of sedation"),
        (put("policy.json", "baseline", "may_start_at", to=["0", "1", "2", "3"]), "no start is held"),
        (
            put("policy.json", "baseline", "levels", 1, "key", to="0"),
            "policy.json: baseline.levels: two levels have one key",
        ),
        (
            put("policy.json", "baseline", "lowest_respiratory_rate", to="10"),
            "policy.json: baseline.lowest_respiratory_rate: ",
        ),
        (
            put("policy.json", "zone", to="Europe/Nowhere"),
            "policy.json: zone: Europe/Nowhere is no time zone",
        ),
        (put("policy.json", "shift_changes", to=["07:00", "25:00"]), "25:00 is no time of day"),
        (put("policy.json", "shift_changes", to=[]), "shift_changes: name one at least"),
        (put("policy.json", "units", "ward-9", to={}), "units.ward-9: there is no such unit"),
        (
            put("observations.json", "recovery", to=["ward-9"]),
            "observations.json: recovery: there is no unit ward-9",
        ),
        (
            put("policy.json", "units", "recovery", "prime_tolerance", to="1 mL"),
            "units.recovery.prime_tolerance: is the same on every unit",
        ),
        (
            put("policy.json", "units", "recovery", "capnography_required", to="sometimes"),
            "capnography_required",
        ),
        (put("policy.json", "account", "scale_division", to="1"), "policy.json: account.scale_division: "),
        (
            put("policy.json", "account", "device_accuracy", to="101 %"),
            "policy.json: account.device_accuracy: ",
        ),
        (put("policy.json", "account", "presses_per_dose", to=0), "presses_per_dose: 0 lies below 1"),
        (put("policy.json", "account", "no_rule", to=True), "nothing is known by the name no_rule"),
        (put("policy.json", "witnesses", to=[]), "witnesses: name one at least"),
        (
            put("policy.json", "witnesses", to=["quality"]),
            "witnesses: quality is none of charge-nurse",
        ),
        (put("policy.json", "pause_minutes", to=0), "pause_minutes: 0 lies below"),
        (put("policy.json", "also_read", to=["lockout"]), "also_read: lockout is none of order_number"),
        (put("policy.json", "also_read", to=[{}]), "also_read.0: this must be a text"),
        (
            put("policy.json", "site", to="St Rowan\x00"),
            "site: holds a sign that cannot be printed",
        ),
        (put("packs.json", "packs", 0, "prime_volume", to="2.3"), "packs.0.prime_volume"),
        (
            put("packs.json", "packs", 1, "key", to="set-150-y"),
            "packs.json: packs: the key set-150-y stands twice",
        ),
        (without("packs.json", "caution"), "packs.json: 'caution' is missing"),
        (put("packs.json", "invented", to=False), "packs.json: invented: write true"),
        (
            put("packs.json", "format", to="countersign.packs/9"),
            "packs.json: format: write countersign",
        ),
        (put("packs.json", to=[]), "packs.json: format"),
        (put(*DEMAND, "hard_high", to="3"), "drugs.morphine.limits.0.hard_high"),
        (put(*DEMAND, "hard_high", to="3 min"), "library.json: morphine.limits[0].hard_high"),
        (put("units.json", 0, "beds", to=[]), "units.json: 0.beds: name one at least"),
        (put("units.json", 0, "beds", to=["4 a", "Bed 4A"]), "ward-4-east: two of its beds read alike"),
        (put("units.json", 1, "beds", to=["bed"]), "recovery: a bed is a number or a name"),
        (put("units.json", 1, "beds", to=["x" * 21]), "a name of at most 20 letters"),
        (put("units.json", 1, "id", to="ward-4-east"), "units.json: 1.id: ward-4-east stands twice"),
        (put("units.json", to={}), "units.json: this must be a list"),
    ],
)
def test_what_is_wrong_is_said_with_its_place(tmp_path: Path, change: Change, says: str) -> None:
    found = faults(changed_rules(tmp_path / "rules", change))

    assert any(says in each for each in found), found
    assert all("\n" not in each for each in found)


@pytest.mark.parametrize(
    "change",
    [
        without("policy.json", "units"),
        without("policy.json", "account"),
        put("policy.json", "training", to={"topics": ["the tool"], "days": 365}),
        put("policy.json", "accountability", to={"version": "1", "text": ["It binds me."]}),
        put("policy.json", "login_unused_days", to=90),
        put("policy.json", "refused_signings", to={"count": 5, "within_minutes": 60}),
        put("policy.json", "orders", to={"count_for_hours": 1, "patient_system": "urn:example:wristband"}),
    ],
    ids=range(7),
)
def test_what_may_be_left_out_and_what_may_be_asked_besides(tmp_path: Path, change: Change) -> None:
    assert faults(changed_rules(tmp_path / "rules", change)) == []


@pytest.mark.parametrize(
    "change",
    [
        put("policy.json", "training", to={"topics": [], "days": 365}),
        put("policy.json", "training", to={"topics": ["the tool"]}),
        put("policy.json", "accountability", to={"version": "1", "text": []}),
        put("policy.json", "login_unused_days", to=0),
        put("policy.json", "refused_signings", to={"count": 1, "within_minutes": 60}),
        put("policy.json", "orders", to={"most_in_a_minute": 0}),
    ],
    ids=range(6),
)
def test_what_nobody_could_mean_by_what_is_asked_besides(tmp_path: Path, change: Change) -> None:
    assert faults(changed_rules(tmp_path / "rules", change)) != []


def tenfold(text: str) -> str:
    number, unit = text.split()
    return f"{show_number(Fraction(number) * 10).replace(',', '')} {unit}"


def test_every_limit_of_the_seed_times_ten_is_refused() -> None:
    kept = []
    for drug, listed in seeded_rules().published["library"]["drugs"].items():
        for at, row in enumerate(listed["limits"]):
            for bound in BOUNDS:
                if bound in row and not row[bound].startswith("0 "):
                    files = seeded_rules()
                    slipped = files.published["library"]["drugs"][drug]["limits"][at]
                    slipped[bound] = tenfold(row[bound])
                    found = faults_of(files, unit_ids(files))
                    if not any(f"drugs.{drug}.limits" in each.path for each in found):
                        kept.append((drug, row["field"], bound))

    assert kept == []


@pytest.mark.parametrize("field", ["demand_dose", "lockout", "amount_per_hour", "amount_per_4_hours"])
@pytest.mark.parametrize("drug", ["morphine", "HYDROmorphone", "fentaNYL", "SUFentanil"])
def test_a_whole_row_times_ten_is_refused(drug: str, field: str) -> None:
    files = seeded_rules()
    (row,) = (each for each in files.published["library"]["drugs"][drug]["limits"] if each["field"] == field)
    row.update({bound: tenfold(row[bound]) for bound in BOUNDS if bound in row})

    assert any(f"drugs.{drug}.limits" in each.path for each in faults_of(files, unit_ids(files)))


@pytest.mark.parametrize(
    ("written", "says"),
    [
        ("{", "policy.json: line 1: is no JSON"),
        ('{"version": "a", "version": "b"}', 'policy.json: the key "version" stands twice in one object'),
        ('{"clearance_minutes": 1.5}', "policy.json: 1.5 is no whole number: write a quantity as text"),
        ('{"clearance_minutes": NaN}', "policy.json: NaN is no whole number"),
        ("[" * 100_000, "policy.json: is nested too deeply"),
        ("1" * 5_000, "policy.json: "),
    ],
)
def test_a_file_that_is_not_strict_is_not_read(tmp_path: Path, written: str, says: str) -> None:
    folder = changed_rules(tmp_path / "rules")
    (folder / "policy.json").write_text(written, encoding="utf-8")

    (found,) = faults(folder)
    assert found.startswith(says)


@pytest.mark.parametrize("content", [None, b"\xff\xfe", b" " * 2_000_000])
def test_a_file_that_cannot_be_read_is_named(tmp_path: Path, content: bytes | None) -> None:
    folder = changed_rules(tmp_path / "rules")
    (folder / "packs.json").unlink()
    if content is not None:
        (folder / "packs.json").write_bytes(content)

    (found,) = faults(folder)
    assert found.startswith("packs.json: ")


def test_all_faults_are_said_at_once(tmp_path: Path) -> None:
    def several(files: Files) -> None:
        files["policy.json"]["adult_age"] = 0
        files["packs.json"]["packs"][0]["prime_volume"] = "2.3"
        files["library.json"]["drugs"] = {}

    assert len(faults(changed_rules(tmp_path / "rules", several))) == 3


def test_a_folder_without_units_can_be_checked_against_those_of_an_installation(tmp_path: Path) -> None:
    folder = changed_rules(tmp_path / "rules")
    (folder / "units.json").unlink()
    files = read_rules(folder)

    assert isinstance(files, RuleFiles)
    assert faults_of(files, {"ward-4-east", "recovery"}) == ()
    assert [each.path for each in faults_of(files, ())] == ["units.recovery", "recovery"]


def test_the_page_of_the_rules_is_drawn_from_their_schemas() -> None:
    assert PLACE.read_text(encoding="utf-8") == drawn()


@pytest.mark.parametrize("what", [*FILES, "units"])
def test_the_schemas_are_schemas(what: str) -> None:
    Draft202012Validator.check_schema(schema_of(what))
