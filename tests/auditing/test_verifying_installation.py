"""Which installation a store is can be verified, and another's keys sign and seal nothing in it."""

from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest

from app.auditing.checkpointing import register_site_keys
from app.auditing.invariants import check_invariants
from app.auditing.verifying_store import Wanted, verify_store
from app.keys import ApplicationKey, create_site_keys, list_site_keys
from app.records.site_events import InstallationFounded
from app.records.state import Phase
from app.records.store_verification import Failing
from app.site.installation import KeysUnusable, founded, is_founded_with, usable_site_keys
from app.workflow.issuing import issue_record
from tests.factories.site_keys import INSTALLATION, MADE_AT, owned
from tests.story.ward import Ward, open_ward

OTHER_KEY = ApplicationKey(content=b"another installation's key......")


@pytest.fixture
def ward(sqlite_url: str) -> Iterator[Ward]:
    with open_ward(sqlite_url) as made:
        yield made


def found(ward: Ward) -> set[str]:
    """What the two commands name of it; both name the same."""
    steps = verify_store(ward.site, ward.now, Wanted(pages=False))
    assert isinstance(steps, Iterator)
    named = {each.what for each in steps if isinstance(each, Failing) and each.about == "log_entry"}
    broken = check_invariants(ward.site, ward.now)
    assert {f"log_entry: {each}" for each in named} <= {each.what for each in broken}
    return named


def appends(ward: Ward, event: InstallationFounded) -> None:
    with ward.site.store.write() as tx:
        tx.append(event, at=ward.now)


def test_the_founding_of_a_ward_holds(ward: Ward) -> None:
    assert found(ward) == set()


def test_a_copy_for_training_holds_too(ward: Ward) -> None:
    appends(ward, founded(ward.site.key, "a copy", copy_of=INSTALLATION))
    assert found(ward) == set()


def test_that_an_installation_is_for_training_is_attested(ward: Ward) -> None:
    said = founded(ward.site.key, "a copy", copy_of=INSTALLATION, training=True)
    appends(ward, said)
    assert found(ward) == set()
    assert not is_founded_with(ward.site.key, replace(said, training=False))


@pytest.mark.parametrize("copy_of", ["", "of nothing known"])
def test_an_installation_is_founded_once(ward: Ward, copy_of: str) -> None:
    appends(ward, founded(ward.site.key, "an intruder", copy_of=copy_of))
    assert len(found(ward)) == 1


def test_a_founding_by_another_application_key_is_found(ward: Ward) -> None:
    appends(ward, founded(OTHER_KEY, "an intruder", copy_of=INSTALLATION))
    assert found(ward) == {"an installation was founded with another application key"}


def test_with_another_application_key_the_store_is_not_this_installation(ward: Ward) -> None:
    ward.site = replace(ward.site, key=OTHER_KEY)
    assert "an installation was founded with another application key" in found(ward)


def test_another_sites_key_in_the_log_is_found(ward: Ward, tmp_path: Path) -> None:
    create_site_keys(tmp_path, MADE_AT, owner=owned("Another hospital (invented)", "another"))
    register_site_keys(ward.site, list_site_keys(tmp_path), ward.now)
    assert found(ward) == {"the log tells of a key of another installation"}


@pytest.mark.usefixtures("quick_pdf")
def test_a_folder_that_was_changed_for_anothers_while_a_server_runs_seals_nothing(
    ward: Ward, tmp_path: Path
) -> None:
    ward.at_stage(Phase.CLEARED)
    create_site_keys(tmp_path, MADE_AT, owner=owned("Another hospital (invented)", "another"))
    other = replace(ward.site, site_keys=tmp_path)
    with ward.site.store.read() as reader:
        head = reader.head()

    assert isinstance(usable_site_keys(other, ward.now), KeysUnusable)
    assert isinstance(issue_record(other, ward.check, 1, ward.now), KeysUnusable)
    with ward.site.store.read() as reader:
        assert reader.head() == head
