"""A site's rules are published whole or not at all, and only when a check can be judged by them."""

from collections.abc import Callable
from pathlib import Path

import pytest

from app.auditing.invariants import check_invariants
from app.keys import ApplicationKey
from app.records.state import Phase
from app.site.installation import Site
from app.site.loading import rules_in_force
from app.storage import open_store
from app.workflow.credentials import Signatory
from app.workflow.proposing import OnePerson
from app.workflow.publishing import (
    InForce,
    NotEmpty,
    NotTheirs,
    Sitting,
    Unpublished,
    install_rules,
    publish_rules,
)
from app.workflow.refusals import WrongCredential
from app.workflow.rule_files import FILES, RuleFiles, RulesWrong, read_rules
from tests.factories.invented_site import Files, changed_rules, own_rules
from tests.factories.seed import install_seed, seeded_rules
from tests.story.people import ADELE, NADIA, PETRA, Somebody
from tests.story.ward import BEGAN, Ward
from tests.story.whole_life import whole_life


@pytest.fixture
def site(database_url: str, tmp_path: Path) -> Site:
    return Site(store=open_store(database_url), key=ApplicationKey(content=b"k" * 32), site_keys=tmp_path)


def published(site: Site) -> dict[str, str]:
    with site.store.read() as reader:
        return {what: rules_in_force(reader, BEGAN).content(what)["version"] for what in FILES}


def log_size(site: Site) -> int:
    with site.store.read() as reader:
        return reader.head()


def test_everything_is_published_and_the_log_says_so(site: Site) -> None:
    install_seed(site, BEGAN)

    assert published(site) == {
        "policy": "policy-9",
        "library": "library-5",
        "safety-steps": "steps-7",
        "packs": "packs-3",
        "observations": "observations-1",
    }
    with site.store.read() as reader:
        assert {each.event.kind for each in reader.log_entries(after=0, limit=1000)} == {
            "bed-added",
            "installation-founded",
            "site-data-published",
            "unit-named",
        }
        assert len(reader.units()) == 2
        assert rules_in_force(reader, BEGAN).are_invented
    site.store.close()


def test_what_is_filled_is_not_filled_again(site: Site, tmp_path: Path) -> None:
    install_seed(site, BEGAN)
    before = log_size(site)
    own = read_rules(own_rules(tmp_path / "own"))
    assert isinstance(own, RuleFiles)

    assert install_rules(site, BEGAN.replace(hour=23), own, installation="other") == NotEmpty()
    assert log_size(site) == before
    site.store.close()


def test_a_site_without_rules_is_not_set_up(site: Site) -> None:
    with site.store.read() as reader, pytest.raises(LookupError, match="no policy has been published"):
        _ = rules_in_force(reader, BEGAN).policy
    site.store.close()


def publishes(
    ward: Ward, folder: Path, by: Somebody = PETRA, second: Somebody = ADELE
) -> InForce | Unpublished:
    files = read_rules(folder)
    assert isinstance(files, RuleFiles), files
    proposed, approved = (Signatory(login=each.login, secret=each.secret) for each in (by, second))
    sitting = Sitting(proposed=proposed, approved=approved, why="another set")
    return publish_rules(ward.site, ward.wait().now, files, sitting)


def new_packs(files: Files) -> None:
    files["packs.json"]["version"] = "packs-own"


def test_a_new_version_is_published_beside_the_old_and_names_its_two(ward: Ward, tmp_path: Path) -> None:
    before = ward.now
    done = publishes(ward, changed_rules(tmp_path / "new", new_packs))

    assert done == InForce(versions={"packs": "packs-own"})
    with ward.site.store.read() as reader:
        assert rules_in_force(reader, before).content("packs")["version"] == "packs-3"
        assert rules_in_force(reader, ward.now).content("packs")["version"] == "packs-own"
        told = [(each.event.kind, each.by) for each in reader.log_entries(after=reader.head() - 3, limit=3)]
    assert told == [
        ("rules-proposed", PETRA.id),
        ("proposal-approved", ADELE.id),
        ("site-data-published", ADELE.id),
    ]
    # Once more there is nothing new.
    assert publishes(ward, changed_rules(tmp_path / "new", new_packs)) == InForce(versions={})


def new_library(files: Files) -> None:
    files["library.json"]["version"] = "library-own"


@pytest.mark.parametrize(
    ("change", "by", "second", "refused"),
    [
        (new_packs, PETRA, PETRA, OnePerson()),
        (new_packs, ADELE, PETRA, NotTheirs(login=ADELE.login, may="propose rules")),
        (new_packs, PETRA, NADIA, NotTheirs(login=NADIA.login, may="approve rules")),
        (
            new_library,
            PETRA,
            ADELE,
            NotTheirs(login=ADELE.login, may="approve a drug library: that takes two pharmacists"),
        ),
    ],
)
def test_two_people_who_may_answer_for_rules(  # noqa: PLR0917  # a row of a table
    one_ward: Ward,
    tmp_path: Path,
    change: Callable[[Files], None],
    by: Somebody,
    second: Somebody,
    refused: object,
) -> None:
    assert publishes(one_ward, changed_rules(tmp_path / "new", change), by, second) == refused
    with one_ward.site.store.read() as reader:
        assert rules_in_force(reader, one_ward.now).content("packs")["version"] == "packs-3"
        assert rules_in_force(reader, one_ward.now).content("library")["version"] == "library-5"


def test_a_wrong_secret_publishes_nothing_and_is_noted(one_ward: Ward) -> None:
    right = Signatory(login=PETRA.login, secret=PETRA.secret)
    wrong = Signatory(login=ADELE.login, secret="no such secret at all")
    sitting = Sitting(proposed=right, approved=wrong, why="another set")
    done = publish_rules(one_ward.site, one_ward.wait().now, seeded_rules(), sitting)

    assert done == WrongCredential()


def test_a_version_that_stands_is_never_given_another_content(one_ward: Ward, tmp_path: Path) -> None:
    folder = changed_rules(tmp_path / "new", lambda files: files["policy.json"].update(clearance_minutes=60))
    refused = publishes(one_ward, folder)

    assert isinstance(refused, RulesWrong)
    assert [each.says for each in refused.faults] == [
        "policy.json: version: policy-9 stands already with another content: name another version"
    ]


def test_invented_rules_never_take_the_place_of_a_sites_own(one_ward: Ward, tmp_path: Path) -> None:
    def own_packs(files: Files) -> None:
        del files["packs.json"]["invented"]
        new_packs(files)

    def invented_again(files: Files) -> None:
        files["packs.json"]["version"] = "packs-again"

    assert isinstance(publishes(one_ward, changed_rules(tmp_path / "own", own_packs)), InForce)
    refused = publishes(one_ward, changed_rules(tmp_path / "invented", invented_again))

    assert isinstance(refused, RulesWrong)
    assert "invented rules never take the place of a site's own" in refused.faults[0].says
    with one_ward.site.store.read() as reader:
        # One file of its own makes a site's rules none of its own.
        assert rules_in_force(reader, one_ward.now).are_invented


def test_a_site_names_its_steps_as_it_likes_and_its_records_hold(ward: Ward, tmp_path: Path) -> None:
    def named_anew(files: Files) -> None:
        steps = files["safety_steps.json"]
        steps["version"] = "steps-own"
        own = {step["id"]: f"own-{at}" for at, step in enumerate(steps["steps"])}
        for step in steps["steps"]:
            step["id"] = own[step["id"]]
            step["before"] = [own[name] for name in step.get("before", ())]
            step["after"] = [own[name] for name in step.get("after", ())]

    assert isinstance(publishes(ward, changed_rules(tmp_path / "new", named_anew)), InForce)
    whole_life(ward.wait())

    assert ward.phase is Phase.STARTED
    assert check_invariants(ward.site, ward.now) == ()
