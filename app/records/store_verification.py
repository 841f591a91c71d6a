"""What is found while a whole database is verified: what fails, what only has to be known, how far it is."""

from dataclasses import dataclass, field
from datetime import datetime
from typing import Any

from app.records.formats import STORE_VERIFICATION


@dataclass(frozen=True, kw_only=True)
class Failing:
    """Something does not hold: of which check ("" for none), about what (`table.column`), and in which way.

    Nothing in it is a value of a patient.
    """

    about: str
    what: str
    check: str = ""

    @property
    def says(self) -> str:
        """One line for a person."""
        whose = f"check {self.check}" if self.check else "the site"
        return f"{whose}: {self.about}: {self.what}"


@dataclass(frozen=True, kw_only=True)
class Noted:
    """The clock of an entry stands before that of the one before it; it is shown, and can be honest."""

    position: int
    at: datetime
    before: datetime

    @property
    def says(self) -> str:
        """One line for a person."""
        return (
            f"entry {self.position} of the log has the time {self.at.isoformat(timespec='seconds')}, "
            f"and the one before it {self.before.isoformat(timespec='seconds')}: the clock was moved back"
        )


@dataclass(frozen=True, kw_only=True)
class Began:
    """With whom people's keys began, at the host; from the second time on it is to be known for ever."""

    position: int
    at: datetime
    number: int
    first: str
    second: str

    @property
    def says(self) -> str:
        """One line for a person."""
        when = f"entry {self.position} of the log, {self.at.isoformat(timespec='seconds')}"
        who = f"{self.first} and {self.second}, who confirmed each other at the host ({when})"
        if self.number == 1:
            return f"people's keys begin with {who}"
        return f"people's keys began anew, founding {self.number}, all before it being lost, with {who}"


@dataclass(frozen=True, kw_only=True)
class Progress:
    """So far: entries of the log read, checks and records verified; `position` is where to go on after."""

    entries: int
    checks: int = 0
    of_checks: int = 0
    records: int = 0
    position: int = 0


@dataclass(frozen=True, kw_only=True)
class PagesNotAsked:
    """Another renderer made the pages of a record, so they were not made again: no fault."""

    check: str
    edition: int


@dataclass(frozen=True, kw_only=True)
class Unverified:
    """Some checks of which nothing is known: the process that verified them ended by itself."""

    first: int
    last: int
    checks: int
    end: str

    @property
    def says(self) -> str:
        """One line for a person."""
        where = f"opened at the entries {self.first} to {self.last}"
        return f"{self.checks} checks, {where}: the process that verified them ended ({self.end})"


Step = Began | Failing | Noted | PagesNotAsked | Progress | Unverified


@dataclass(kw_only=True)
class Tally:
    """The answer as it grows; of very many failures the first are kept, and the number of all."""

    pages: bool
    after: int = 0
    progress: Progress = field(default_factory=lambda: Progress(entries=0))
    failing: list[Failing] = field(default_factory=list)
    noted: list[Began | Noted] = field(default_factory=list)
    began: list[Began] = field(default_factory=list)
    failures: int = 0
    pages_not_asked: int = 0
    unverified: list[Unverified] = field(default_factory=list)
    whole: bool = False

    AT_MOST = 50

    def add(self, step: Step) -> None:
        """Take a step into account."""
        if isinstance(step, Progress):
            self.progress = step
        elif isinstance(step, PagesNotAsked):
            self.pages_not_asked += 1
        elif isinstance(step, Unverified):
            self.unverified.append(step)
        elif isinstance(step, Began) and step.number == 1:
            self.began.append(step)
        elif isinstance(step, Began | Noted):
            self.noted = [*self.noted, step][: self.AT_MOST]
        else:
            self.failures += 1
            self.failing = [*self.failing, step][: self.AT_MOST]

    def as_data(self) -> dict[str, Any]:
        """The answer as JSON values."""
        return {
            "format": STORE_VERIFICATION.newest,
            "holds": self.whole and not self.failures,
            "whole": self.whole,
            "after": self.after,
            "position": self.progress.position,
            "entries": self.progress.entries,
            "checks": self.progress.checks,
            "records": self.progress.records,
            "pages_made_again": self.pages,
            "pages_not_asked": self.pages_not_asked,
            "failures": self.failures,
            "failing": [
                {"check": each.check, "about": each.about, "what": each.what} for each in self.failing
            ],
            "unverified": [each.says for each in self.unverified],
            "began": [each.says for each in self.began],
            "noted": [each.says for each in self.noted],
        }
