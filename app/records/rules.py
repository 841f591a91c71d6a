"""What a site has published, as the rules of one moment: each version is read once for all."""

import json
from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from types import MappingProxyType
from typing import Any

from app.records import formats
from app.records.kept import SiteData
from app.records.observing import Protocol, protocol_from
from app.records.policy import SitePolicy, policy_from
from app.records.steps import Plan, plan_from

POLICY, LIBRARY, STEPS, PACKS = "policy", "library", "safety-steps", "packs"
OBSERVATIONS = "observations"
FORMATS: Mapping[str, formats.Format] = {
    POLICY: formats.POLICY,
    LIBRARY: formats.LIBRARY,
    STEPS: formats.SAFETY_STEPS,
    PACKS: formats.PACKS,
    OBSERVATIONS: formats.OBSERVATIONS,
}
# More versions than are in force at once in any installation, over all checks that are looked at.
_VERSIONS = 64


# Where a value comes from stands beside it, for people: nothing is judged by it.
SOURCE = "source"
# What says so of itself is for a demonstration: whatever is made under it says so in its head.
INVENTED = "invented"


class NotPublishedError(LookupError):
    """Of these rules nothing is in force: none were published, or the clock stands before they were."""

    def __init__(self, what: str) -> None:
        super().__init__(f"no {what} has been published, or the clock stands before that")


@dataclass(frozen=True, kw_only=True)
class Rules:
    """The published data in force at one moment; an installation without some of it is not set up.

    Of a unit where one is named: it may have other values of the policy than its site.
    """

    published: Mapping[str, SiteData]
    unit: str = ""

    @property
    def policy(self) -> SitePolicy:
        """The site's policy, as it is on the unit."""
        return _policy(self._bytes(POLICY), self.unit)

    @property
    def observations(self) -> Protocol:
        """How often a patient is observed."""
        return _protocol(self._bytes(OBSERVATIONS))

    @property
    def are_invented(self) -> bool:
        """Whether any of it is invented, as what comes with the program is: never for a patient."""
        return any(INVENTED in self.content(what) for what in self.published)

    @property
    def has_library(self) -> bool:
        """Whether a drug library is in force: without one no dose, no strength and no drug is judged."""
        return LIBRARY in self.published and bool(self.content(LIBRARY)["drugs"])

    def plan(self, name: str) -> Plan:
        """One plan of the safety steps."""
        return _plan(self._bytes(STEPS), name)

    def content(self, what: str) -> Mapping[str, Any]:
        """The content of one kind, as it was published."""
        return _content(self._bytes(what), what)

    def _bytes(self, what: str) -> bytes:
        if what not in self.published:
            raise NotPublishedError(what)
        return self.published[what].content


# Told apart by the bytes themselves, so that what somebody changed in the database is never taken for them.
@lru_cache(maxsize=_VERSIONS)
def _content(canonical: bytes, what: str) -> Mapping[str, Any]:
    content = json.loads(canonical)
    FORMATS[what].version_of(content)
    return MappingProxyType(without_sources(content))


def without_sources(content: Any) -> Any:  # noqa: ANN401  # any JSON value
    """The same without what says where its values come from."""
    if isinstance(content, dict):
        return {name: without_sources(value) for name, value in content.items() if name != SOURCE}
    return [without_sources(each) for each in content] if isinstance(content, list) else content


@lru_cache(maxsize=_VERSIONS)
def _policy(canonical: bytes, unit: str) -> SitePolicy:
    return policy_from(_content(canonical, POLICY), unit)


def policy_of(canonical: bytes) -> SitePolicy:
    """The site's policy as it was published, read once for all."""
    return _policy(canonical, "")


@lru_cache(maxsize=_VERSIONS)
def _protocol(canonical: bytes) -> Protocol:
    return protocol_from(_content(canonical, OBSERVATIONS))


@lru_cache(maxsize=_VERSIONS)
def _plan(canonical: bytes, name: str) -> Plan:
    return plan_from(_content(canonical, STEPS), name)
