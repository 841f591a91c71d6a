"""The rules in force at one moment."""

import json
from collections.abc import Mapping
from datetime import UTC, datetime
from typing import Any

import pytest

from app.config import root
from app.records.canonical import canonical, digest
from app.records.kept import SiteData
from app.records.rules import FORMATS, LIBRARY, PACKS, Rules, policy_of

AT = datetime(2031, 5, 2, tzinfo=UTC)


def a_library(drugs: list[Mapping[str, Any]]) -> SiteData:
    content = canonical({"format": FORMATS[LIBRARY].newest, "drugs": drugs})
    return SiteData(what=LIBRARY, version="1", content=content, digest=digest(content), in_force_from=AT)


@pytest.mark.parametrize(
    ("published", "has"),
    [
        ({}, False),
        ({LIBRARY: a_library([])}, False),
        ({LIBRARY: a_library([{"name": "morphine"}])}, True),
    ],
)
def test_a_library_without_a_drug_is_none(published: dict[str, SiteData], *, has: bool) -> None:
    assert Rules(published=published).has_library is has


@pytest.mark.parametrize("invented", [True, False])
def test_one_part_that_is_invented_makes_all_of_it_so(*, invented: bool) -> None:
    named = {"invented": True} if invented else {}
    content = canonical({"format": FORMATS[PACKS].newest, "drugs": [], **named})
    part = SiteData(what=PACKS, version="1", content=content, digest=digest(content), in_force_from=AT)

    assert Rules(published={LIBRARY: a_library([]), PACKS: part}).are_invented is invented


def test_a_policy_as_it_was_published_is_read_once_for_all() -> None:
    content = canonical(json.loads((root() / "seed_data" / "policy.json").read_text(encoding="utf-8")))

    assert policy_of(content).version == json.loads(content)["version"]
    assert policy_of(content) is policy_of(content)
