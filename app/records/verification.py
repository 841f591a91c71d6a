"""What is asked of a record that somebody holds in the hand, and each answer: it holds, or it does not.

A question that cannot be put to this file is *not asked*, which is no fault.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum
from typing import Any

from app.records.formats import VERIFICATION

# What an answer says in the place of yes and no.
NOT_ASKED = "not asked"


class About(StrEnum):
    """Which document it was."""

    RECORD = "record"
    FOLLOWED = "what-followed"
    COMPETENCY = "competency"


_WHAT = {
    About.RECORD: "",
    About.FOLLOWED: "what followed",
    About.COMPETENCY: "checks on training cards,",
}


class Question(StrEnum):
    """What is asked of a record, in this order; the words are for the person who reads the answer."""

    SEAL = "the file is, byte for byte, as the site sealed it"
    ISSUED = "this very file is the one that the log says was issued"
    RECORD = "the attached record is whole and written in its one form"
    SIGNATURE_A = "the first nurse signed this record"
    SIGNATURE_B = "the second nurse signed this record"
    LOG = "the second signature has its place in the site's log"
    PAGES = "the pages say what is attached to them"
    FOLLOWED = "what is attached is whole and written in its one form"
    EVENTS = (
        "every event in it stands in the site's log, and the first is the freezing of the record it follows"
    )
    HOLDER = "the person whose record it is signed it"
    TRAINER = "another person signed it"
    REVIEWED = "the log has the other signature, as a trainer's"
    COMPUTED = "findings and doses come out the same when computed again"


@dataclass(frozen=True, kw_only=True)
class Answer:
    """Whether one thing holds (None: it was not asked), and why in plain words, without a value."""

    question: Question
    holds: bool | None
    says: str


@dataclass(frozen=True, kw_only=True)
class Verification:
    """Every answer about one record, or about what `about` names in its place."""

    record: str
    edition: int
    answers: tuple[Answer, ...]
    about: About = About.RECORD
    # The newest edition of this record that the log at hand knows, where this is an earlier one; else 0.
    superseded_by: int = 0

    @property
    def superseded(self) -> str:
        """What to do about an edition that is not the newest; empty for the newest."""
        if not self.superseded_by:
            return ""
        return (
            f"SUPERSEDED: the log has edition {self.superseded_by} of this record, which counts in its place."
        )

    @property
    def what(self) -> str:
        """Which document it was, in words."""
        named = f"record {self.record}, edition {self.edition}"
        said = f"{_WHAT[self.about]} {named}".strip()
        return said[0].upper() + said[1:]

    @property
    def holds(self) -> bool:
        """Whether every question that was asked was answered with yes."""
        return all(each.holds is not False for each in self.answers)

    @property
    def whole(self) -> bool:
        """Whether every question was asked."""
        return all(each.holds is not None for each in self.answers)

    @classmethod
    def find_in(cls, data: Mapping[str, Any]) -> "Verification | None":
        """What `as_data` wrote; None where it is nothing of the kind."""
        try:
            return cls(
                record=data["record"],
                edition=data["edition"],
                about=About(data["what"]),
                superseded_by=data["superseded_by"] or 0,
                answers=tuple(
                    Answer(
                        question=Question[each["about"].upper()],
                        holds=None if each["holds"] == NOT_ASKED else each["holds"],
                        says=each["says"],
                    )
                    for each in data["answers"]
                ),
            )
        except (AttributeError, LookupError, TypeError, ValueError):
            return None

    def as_data(self) -> dict[str, Any]:
        """The answers as JSON values."""
        return {
            "format": VERIFICATION.newest,
            "what": self.about.value,
            "record": self.record,
            "edition": self.edition,
            "superseded_by": self.superseded_by or None,
            "holds": self.holds,
            "answers": [
                {
                    "about": each.question.name.lower(),
                    "holds": NOT_ASKED if each.holds is None else each.holds,
                    "says": each.says,
                }
                for each in self.answers
            ],
        }


@dataclass(frozen=True, kw_only=True)
class NotReadable:
    """The question cannot even be put: what was given is no record, no certificate or no checkpoint."""

    why: str
