"""Proposing and deciding on a document of the site's rules, as the two people do it."""

import json
from collections.abc import Mapping
from dataclasses import replace
from datetime import datetime
from typing import Any

from app.people import Role
from app.records.rules import POLICY
from app.workflow.proposing import (
    Approved,
    Draft,
    NotDecided,
    NotProposed,
    NotThisOne,
    Proposed,
    approve_proposal,
    digest_of,
    follows,
    propose_rules,
)
from tests.story.people import ADELE, PETRA, QUILL, Somebody
from tests.story.ward import Ward

# Quill, in a hospital where she is a pharmacist too.
SECOND_PHARMACIST = replace(QUILL, roles=QUILL.roles | {Role.PHARMACIST})


def standing(ward: Ward, what: str = POLICY, at: datetime | None = None) -> dict[str, Any]:
    """The document in force."""
    with ward.site.store.read() as reader:
        kept = follows(reader, what, at or ward.now)
    assert kept is not None
    content: dict[str, Any] = json.loads(kept.content)
    return content


def draft_of(
    ward: Ward,
    version: str,
    *,
    what: str = POLICY,
    since: datetime | None = None,
    why: str = "the pharmacy asked",
    **changes: object,
) -> Draft:
    """What is in force but for the changes, compared with it."""
    content: Mapping[str, Any] = {**standing(ward, what, since), "version": version, **changes}
    with ward.site.store.read() as reader:
        against = digest_of(follows(reader, what, since or ward.now))
    return Draft(what=what, content=content, why=why, in_force_from=since, against=against)


def proposes(ward: Ward, draft: Draft, who: Somebody = PETRA) -> Proposed | NotProposed:
    """Somebody proposes it a minute later."""
    return propose_rules(ward.site, ward.wait().act(who), who.roles, draft)


def proposed(ward: Ward, version: str, **given: Any) -> str:  # noqa: ANN401  # as `draft_of` takes them
    """Petra proposes a version; it waits."""
    done = proposes(ward, draft_of(ward, version, **given))
    assert isinstance(done, Proposed), done
    return done.proposal


def approves_it(
    ward: Ward, proposal: str, who: Somebody = ADELE, over: tuple[str, ...] = ()
) -> Approved | NotDecided | NotThisOne:
    """Somebody approves it a minute later."""
    return approve_proposal(ward.site, ward.wait().act(who), who.roles, proposal, over=over)
