"""A site's rules are published whole or not at all, once, and only when a check can be judged by them."""

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from app.auditing.invariants import check_invariants
from app.config import root
from app.keys import ApplicationKey
from app.records.state import Phase
from app.site.installation import Site
from app.site.loading import rules_in_force
from app.storage import open_store
from app.workflow.installing import FILES, RulesWrongError, install_seed
from tests.story.ward import BEGAN, Ward
from tests.story.whole_life import whole_life

SEED = root() / "seed_data"
Rules = dict[str, Any]


@pytest.fixture
def site(database_url: str, tmp_path: Path) -> Site:
    return Site(store=open_store(database_url), key=ApplicationKey(content=b"k" * 32), site_keys=tmp_path)


def rules(folder: Path, change: Callable[[dict[str, Rules]], object] = lambda _rules: None) -> Path:
    """A folder with the seed's rules, changed."""
    content = {
        name: json.loads((SEED / name).read_text(encoding="utf-8"))
        for name in (*FILES.values(), "units.json")
    }
    change(content)
    for name, each in content.items():
        (folder / name).write_text(json.dumps(each), encoding="utf-8")
    return folder


def published(site: Site) -> dict[str, str]:
    with site.store.read() as reader:
        return {what: rules_in_force(reader, BEGAN).content(what)["version"] for what in FILES}


def log_size(site: Site) -> int:
    with site.store.read() as reader:
        return reader.head()


def test_everything_is_published_and_the_log_says_so(site: Site) -> None:
    install_seed(site, BEGAN, SEED)

    assert published(site) == {
        "policy": "policy-7",
        "library": "library-3",
        "safety-steps": "steps-4",
        "packs": "packs-2",
    }
    with site.store.read() as reader:
        assert {each.event.kind for each in reader.log_entries(after=0, limit=1000)} == {
            "bed-added",
            "site-data-published",
            "unit-named",
        }
        assert len(reader.units()) == 2
    site.store.close()


def test_once_more_does_no_harm(site: Site) -> None:
    install_seed(site, BEGAN, SEED)
    before = log_size(site)
    install_seed(site, BEGAN, SEED)

    assert log_size(site) == before
    site.store.close()


def test_a_new_version_is_published_beside_the_old(site: Site, tmp_path: Path) -> None:
    install_seed(site, BEGAN, SEED)
    later = BEGAN.replace(hour=23)
    install_seed(site, later, rules(tmp_path, lambda each: each["packs.json"].update(version="packs-3")))
    with site.store.read() as reader:
        assert rules_in_force(reader, BEGAN).content("packs")["version"] == "packs-2"
        assert rules_in_force(reader, later).content("packs")["version"] == "packs-3"
    site.store.close()


def test_a_version_that_stands_is_never_given_another_content(site: Site, tmp_path: Path) -> None:
    install_seed(site, BEGAN, SEED)
    changed = rules(tmp_path, lambda each: each["policy.json"].update(clearance_minutes=600))

    with pytest.raises(RulesWrongError, match="policy: policy-7 stands already with another content"):
        install_seed(site, BEGAN.replace(hour=23), changed)
    site.store.close()


def test_a_site_without_rules_is_not_set_up(site: Site) -> None:
    with site.store.read() as reader, pytest.raises(LookupError, match="no policy has been published"):
        _ = rules_in_force(reader, BEGAN).policy
    site.store.close()


def _without(name: str, key: str) -> Callable[[dict[str, Rules]], object]:
    return lambda each: each[name].pop(key)


def _set(name: str, *path: str | int, to: object) -> Callable[[dict[str, Rules]], object]:
    def change(each: dict[str, Rules]) -> None:
        place: Any = each[name]
        for key in path[:-1]:
            place = place[key]
        place[path[-1]] = to

    return change


@pytest.mark.parametrize(
    ("change", "says"),
    [
        (_without("policy.json", "clearance_minutes"), "something is missing: 'clearance_minutes'"),
        (_without("library.json", "drugs"), "something is missing: 'drugs'"),
        (_set("policy.json", "engine", "prime_tolerance", to="0.30 mL"), "policy.prime_tolerance"),
        (_set("policy.json", "baseline", "lowest_spo2", to="92"), "lowest_spo2"),
        (_set("policy.json", "baseline", "may_start_at", to=["4"]), "may_start_at"),
        (_set("policy.json", "engine", "smallest_volume_step", to="0.01 ml"), "policy.smallest_volume_step"),
        (_set("policy.json", "engine", "no_such_rule", to=True), "policy.no_such_rule"),
        (_set("packs.json", "packs", 0, "prime_volume", to="2.3"), "policy.prime_volume"),
        (_set("library.json", "drugs", "morphine", "limits", 0, "hard_high", to="3"), "library.morphine"),
        (_set("safety_steps.json", "steps", to=[]), "there are no steps"),
        (_set("safety_steps.json", "steps", 1, "id", to="baseline"), "the step baseline stands twice"),
        (_set("safety_steps.json", "steps", 0, "entry", to=""), "no step writes down the baseline"),
        (
            _set("safety_steps.json", "steps", 1, "entry", to="primed-volume"),
            "more than one step writes down the primed-volume",
        ),
        (_set("policy.json", "zone", to="Europe/Nowhere"), "zone"),
        (
            _set("policy.json", "shift_changes", to=["07:00", "25:00"]),
            "shift_changes: 25:00 is no time of day",
        ),
        (_set("policy.json", "shift_changes", to=[]), "shift_changes: name one at least"),
        (_set("policy.json", "units", "ward-9", to={}), "units: there is no unit ward-9"),
        (
            _set("policy.json", "units", "recovery", "prime_tolerance", to="1 mL"),
            "units: recovery: prime_tolerance is the same on every unit",
        ),
        (
            _set("policy.json", "units", "recovery", "capnography_required", to="sometimes"),
            "policy.capnography_required",
        ),
        (_set("policy.json", "witnesses", to=[]), "witnesses: name roles among"),
        (_set("policy.json", "witnesses", to=["nurse", "quality"]), "charge-nurse, nurse, pharmacist"),
        (_set("policy.json", "pause_minutes", to=0), "pause_minutes: name how long"),
        (
            _set("policy.json", "also_read", to=["device_serial", "lockout"]),
            "also_read: lockout is none of order_number, prescriber, device_serial",
        ),
        (_set("policy.json", "also_read", to=[{}]), "also_read: {} is none of"),
        (_set("units.json", 0, "beds", to=[]), "ward-4-east: name its beds"),
        (_set("units.json", 0, "beds", to=["4 a", "Bed 4A"]), "two of its beds read alike"),
        (_set("units.json", 1, "beds", to=["bed"]), "recovery: a bed is a number or a name"),
        (_set("units.json", 1, "beds", to=["x" * 21]), "a name of at most 20 letters"),
    ],
)
def test_rules_by_which_no_check_could_be_judged_are_refused_whole(
    sqlite_url: str, tmp_path: Path, change: Callable[[dict[str, Rules]], object], says: str
) -> None:
    site = Site(store=open_store(sqlite_url), key=ApplicationKey(content=b"k" * 32), site_keys=tmp_path)

    with pytest.raises(RulesWrongError, match=says):
        install_seed(site, BEGAN, rules(tmp_path, change))
    assert log_size(site) == 0
    site.store.close()


@pytest.mark.parametrize(("name", "content"), [("policy.json", "{"), ("units.json", None)])
def test_a_file_that_cannot_be_read_is_named(
    sqlite_url: str, tmp_path: Path, name: str, content: str | None
) -> None:
    site = Site(store=open_store(sqlite_url), key=ApplicationKey(content=b"k" * 32), site_keys=tmp_path)
    folder = rules(tmp_path)
    (folder / name).unlink()
    if content is not None:
        (folder / name).write_text(content, encoding="utf-8")

    with pytest.raises(RulesWrongError, match=name):
        install_seed(site, BEGAN, folder)
    site.store.close()


def test_a_site_names_its_steps_as_it_likes_and_its_records_hold(ward: Ward, tmp_path: Path) -> None:
    def named_anew(each: dict[str, Rules]) -> None:
        steps = each["safety_steps.json"]
        steps["version"] = "steps-own"
        own = {step["id"]: f"own-{at}" for at, step in enumerate(steps["steps"])}
        for step in steps["steps"]:
            step["id"] = own[step["id"]]
            step["before"] = [own[name] for name in step.get("before", ())]
            step["after"] = [own[name] for name in step.get("after", ())]

    install_seed(ward.site, ward.wait().now, rules(tmp_path, named_anew))
    whole_life(ward.wait())

    assert ward.phase is Phase.STARTED
    assert check_invariants(ward.site, ward.now) == ()
