"""Documents of the site's rules as pages show them: in words, and who must still agree."""

import re
from collections.abc import Container, Iterable, Mapping
from dataclasses import dataclass
from itertools import groupby
from typing import Any

from app.people import Person, may
from app.records.canonical import canonical
from app.records.rules import LIBRARY
from app.site.approving import approves
from app.web.forms.rule_fields import STEP, RuleField
from app.web.forms.rule_parts import NEW_DRUG, NEW_STEP, ORDER, STRENGTHS, all_parts
from app.words.checking import code_words
from app.words.names import SEVERITIES
from app.words.rules import PARTS, RuleRow
from app.workflow.replaying import Replayed
from app.workflow.rule_faults import schema_of
from app.workflow.rules_seen import DocumentSeen, ProposalSeen, VersionSeen

# So many groups stand open; of more each says what it holds.
_FEW = 3
TWO_PHARMACISTS = "A pharmacist proposes, another pharmacist approves."
WITH_ADMINISTRATOR = "A pharmacist proposes, an administrator approves."


def who_agrees(what: str) -> str:
    """Who proposes and who approves a document."""
    return TWO_PHARMACISTS if what == LIBRARY else WITH_ADMINISTRATOR


def waits_for(what: str) -> str:
    """Who must still agree."""
    return "another pharmacist" if what == LIBRARY else "an administrator"


def came_by(version: VersionSeen) -> str:
    """How a version came about."""
    its = version.came_by
    return f"proposed by {its.proposed_by}, approved by {its.decided_by}" if its else "with the installation"


def may_approve(person: Person, seen: ProposalSeen) -> bool:
    """Whether it waits for this person, too."""
    is_own = seen.proposal.proposed_by == person.id
    return not is_own and may(person.roles, approves(seen.proposal.what))


def rows_by_head(rows: Iterable[RuleRow]) -> tuple[tuple[str, tuple[RuleRow, ...]], ...]:
    """The values of a document, under their heads."""
    of_head: dict[str, list[RuleRow]] = {}
    for each in rows:
        of_head.setdefault(each.head, []).append(each)
    return tuple((head, tuple(of)) for head, of in of_head.items())


@dataclass(frozen=True, kw_only=True)
class FieldGroup:
    """The fields of one thing; `says` is what it holds now, so that the rest can stay folded."""

    words: str
    fields: tuple[RuleField, ...]
    says: str
    open: bool


def fields_by_group(
    fields: Iterable[RuleField], standing: Mapping[str, str], faulty: Container[str]
) -> tuple[FieldGroup, ...]:
    """The fields of a part, each under what it is of; what has a fault stands open.

    `standing` is what stands in each field by what is in force.
    """
    groups = [(words, tuple(of)) for words, of in groupby(fields, key=lambda each: each.group)]
    return tuple(
        FieldGroup(
            words=words,
            fields=of,
            says=", ".join(
                f"{each.label.lower()} {standing[each.name]}"
                for each in of
                if each.is_bound and standing.get(each.name)
            ),
            open=len(groups) <= _FEW or words == STRENGTHS or any(each.name in faulty for each in of),
        )
        for words, of in groups
    )


_ABOUT_A_PART = "A blank field has no value; what is left wholly blank is taken away."
_OTHER_STEPS = "What waits for it, and what it comes after, are other steps by their names, one a line."
_ABOUT_PARTS = {
    NEW_DRUG: (
        "Write what is bounded and leave the rest blank. More strengths than there are fields, and other "
        "limits for tolerant patients, can be added once you have seen what differs."
    ),
    NEW_STEP: _OTHER_STEPS,
    STEP: f"{_ABOUT_A_PART} {_OTHER_STEPS}",
    ORDER: "Write another place for what is to move; the others make room.",
}


@dataclass(frozen=True, kw_only=True)
class PartShown:
    """A part of a document, as whoever changes it finds it."""

    part: str
    words: str
    hint: str = ""


def parts_shown(what: str, content: Mapping[str, Any]) -> tuple[PartShown, ...]:
    """The parts of a document, a step with what is done in it."""
    does = {f"{STEP}{each['id']}": each["do"] for each in content.get("steps", ())}
    parts = all_parts(what, content, schema_of(what))
    return tuple(PartShown(part=each, words=part_words(each), hint=does.get(each, "")) for each in parts)


def about_part(part: str) -> str:
    """What is said at the head of a page on which a part is changed."""
    return _ABOUT_PARTS.get(STEP if part.startswith(STEP) else part, _ABOUT_A_PART)


def part_words(part: str) -> str:
    """What a part of a document is called; a drug and a step by their names."""
    if part.startswith(STEP):
        return f"Step {part.removeprefix(STEP)}"
    return PARTS.get(part, part.replace("_", " "))


def written(content: Mapping[str, Any]) -> str:
    """A document as a page carries it."""
    return canonical(content).decode()


def next_version(seen: DocumentSeen) -> str:
    """A name for the next version that nobody has given yet, after the manner of the last."""
    taken = {
        each.version for each in (*seen.later, *seen.earlier, *([seen.in_force] if seen.in_force else ()))
    }
    taken |= {each.proposal.version for each in (*seen.waiting, *seen.decided)}
    last = seen.in_force.version if seen.in_force else seen.what
    named = re.fullmatch(r"(.*?)-?(\d+)", last)
    base, number = (named[1], int(named[2])) if named else (last, 1)
    while f"{base}-{number}" in taken or f"{base}-{number}" == last:
        number += 1
    return f"{base}-{number}"


@dataclass(frozen=True, kw_only=True)
class RuleTried:
    """What a rule would find otherwise, in words."""

    severity: str
    words: str
    gone: int
    new: int
    units: str


def rules_tried(found: Replayed) -> tuple[RuleTried, ...]:
    """The table of a replay."""
    return tuple(
        RuleTried(
            severity=SEVERITIES[each.severity],
            words=code_words(each.code),
            gone=each.gone,
            new=each.new,
            units="; ".join(_of_unit(*of_unit) for of_unit in each.units),
        )
        for each in found.rules
    )


def _of_unit(name: str, gone: int, new: int) -> str:
    said = (f"{new} new" if new else "", f"{gone} no longer" if gone else "")
    return f"{name} {', '.join(filter(None, said))}"
