"""The format of everything that is kept or handed out: its name, its newest version, and those that are read.

What is written says its format, `countersign.record/2`; what is read is read by the version that it says. One
that this program does not know is refused in plain words: it is somebody's newer program that wrote it.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

_HOUSE = "countersign."
# Letters of a name and a version.
_LONGEST = 40


@dataclass(frozen=True, kw_only=True)
class UnknownFormat:
    """Something says a format that is not known here, or none; nothing else of it was read."""

    what: str
    said: object

    @property
    def says(self) -> str:
        """In plain words; only what looks like a format is repeated: anything else may be a value."""
        if not self.is_ours:
            return f"{self.what} does not say in which format it is"
        return f"{self.what} has the format {self.said}, which this version of the program does not know"

    @property
    def is_ours(self) -> bool:
        """Whether it looks like one of our formats at all."""
        return (
            isinstance(self.said, str)
            and self.said.startswith(_HOUSE)
            and len(self.said) <= len(_HOUSE) + _LONGEST
        )


class UnknownFormatError(Exception):
    """Something that is stored has a format that this program does not know: a newer one wrote it."""

    def __init__(self, unknown: UnknownFormat) -> None:
        """With the same words, which hold no value."""
        super().__init__(unknown.says)
        self.says = unknown.says


@dataclass(frozen=True, kw_only=True)
class Format:
    """One format; `versions` are those that are read, the newest last."""

    name: str
    what: str
    versions: tuple[int, ...] = (1,)

    @property
    def newest(self) -> str:
        """As what is written now says it."""
        return self.said(self.versions[-1])

    def said(self, version: int) -> str:
        """As it is said of one version."""
        return f"{_HOUSE}{self.name}/{version}"

    def find_version(self, document: Mapping[str, Any]) -> int | UnknownFormat:
        """The version by which what somebody handed in is read."""
        said = document.get("format")
        known = (version for version in self.versions if said == self.said(version))
        return next(known, UnknownFormat(what=self.what, said=said))

    def version_of(self, document: Mapping[str, Any]) -> int:
        """The version by which what is stored is read; raises UnknownFormatError."""
        found = self.find_version(document)
        if isinstance(found, UnknownFormat):
            raise UnknownFormatError(found)
        return found


CASE = Format(name="case", what="the case of an evaluation", versions=(2,))
RESULT = Format(name="result", what="the result of an evaluation", versions=(2,))
ACCOUNT = Format(name="account", what="the case of an account")
BALANCE = Format(name="balance", what="the account of an infusion")
READ = Format(name="read", what="what was read in a round")
COMPARISON = Format(name="comparison", what="the comparison of a round")
ENVELOPE = Format(name="envelope", what="a sealed envelope")
READING = Format(name="reading", what="the content of a sealed reading")
RECORD = Format(name="record", what="the record", versions=(2,))
WHAT_FOLLOWED = Format(name="what-followed", what="what followed a record")
COMPETENCY = Format(name="competency", what="the record of checks on training cards")
LOG_ENTRIES = Format(name="log-entries", what="the entries of the log that are shown")
LOG_ENTRY = Format(name="log-entry", what="an entry of the log")
LOG_PROOF = Format(name="log-proof", what="the proof from the log")
CHECKPOINT = Format(name="checkpoint", what="the checkpoint")
CHECKPOINT_FILE = Format(name="checkpoint-file", what="the checkpoint file")
KEY_CONFIRMATION = Format(name="key-confirmation", what="the confirmation of a key")
RENDERER = Format(name="renderer", what="the name of the renderer")
POLICY = Format(name="policy", what="the policy")
LIBRARY = Format(name="library", what="the drug library")
SAFETY_STEPS = Format(name="safety-steps", what="the safety steps")
PACKS = Format(name="packs", what="the packs")
OBSERVATIONS = Format(name="observations", what="the observation protocol")
TABLE = Format(name="table", what="an exported table of what was read")
ENDED_TABLE = Format(name="ended-table", what="an exported table of ended checks")
EXPORT = Format(name="export", what="the manifest of an export")
ENDED_CHECK = Format(name="ended-check", what="a check that has ended")
OUTSIDE = Format(name="outside-of-checks", what="what was done outside of a check")
VERIFICATION = Format(name="verification", what="the answers about a record", versions=(2,))
STORE_VERIFICATION = Format(name="store-verification", what="the answers about a database", versions=(2,))
COPY = Format(name="copy", what="the copy of a database")

FORMATS: tuple[Format, ...] = tuple(each for each in vars().values() if isinstance(each, Format))
