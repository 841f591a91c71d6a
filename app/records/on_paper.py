"""An infusion that was checked on paper: who typed it in and who confirmed it, and not a value of it."""

from dataclasses import dataclass
from datetime import datetime


@dataclass(frozen=True, kw_only=True)
class Transcription:
    """One time that the sheets were typed in: where in the log, by whom, in which session.

    `answered_by`: who held it beside the sheets; `same`: what that person said.
    """

    position: int
    at: datetime
    by: str
    session: str
    answered_by: str = ""
    answered_at: datetime | None = None
    same: bool = False

    @property
    def waits(self) -> bool:
        """Whether nobody has held it beside the sheets yet."""
        return not self.answered_by

    def may_be_answered(self, by: str, session: str) -> bool:
        """Whether somebody may hold it beside the sheets: once, another person, in a session of their own."""
        return self.waits and by != self.by and session != self.session


def paper_look(infusion: str) -> str:
    """How a look at what was typed in is listed: there is no check yet to which it could be one."""
    return f"on paper: {infusion}"


def stands(transcriptions: tuple[Transcription, ...]) -> Transcription | None:
    """The last one that another person found the same as the sheets; a later one counts once it was, too."""
    return next((each for each in reversed(transcriptions) if each.same), None)


def waits(transcriptions: tuple[Transcription, ...]) -> Transcription | None:
    """The one that another has yet to hold beside the sheets; what was typed in anew waits for nobody."""
    last = transcriptions[-1] if transcriptions else None
    return last if last is not None and last.waits else None
