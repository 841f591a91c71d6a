"""Refusals that several actions share. Each states its rule; the view turns it into words."""

from dataclasses import dataclass

from app.records.state import Phase


@dataclass(frozen=True)
class NotFound:
    """There is no such check, or this person may not know of it."""


@dataclass(frozen=True)
class NotYours:
    """Only the check's two clinicians may do this."""


@dataclass(frozen=True, kw_only=True)
class NotNow:
    """The check is in a phase in which this cannot be done."""

    phase: Phase


@dataclass(frozen=True, kw_only=True)
class WrongCredential:
    """Id and secret do not belong together, or the account may not sign in."""


@dataclass(frozen=True, kw_only=True)
class TooManyTries:
    """The account waits after failed tries; a delay, never a lock: no colleague can shut a nurse out."""

    seconds: int


@dataclass(frozen=True)
class WrongSpan:
    """The last day lies before the first."""


@dataclass(frozen=True)
class NoSuchUnit:
    """The unit is not one of the site's."""


@dataclass(frozen=True, kw_only=True)
class NoSuchBed:
    """The unit has no such bed; `beds` are those that it has."""

    beds: tuple[str, ...]


@dataclass(frozen=True)
class NotAllowed:
    """None of this person's roles permits it."""


@dataclass(frozen=True)
class NotOnShift:
    """The person's shift is on another unit; a shift elsewhere is taken at sign-in."""


@dataclass(frozen=True)
class ReadsBlind:
    """Whoever reads alone, or has to read again, sees nothing of what is in force or was checked on paper."""


@dataclass(frozen=True)
class KeptAsEvidence:
    """What is left of the infusion is kept as it is: nothing is wasted, returned, cleared or emptied."""


@dataclass(frozen=True, kw_only=True)
class KeyNotConfirmed:
    """The person has no key that a second one confirmed face to face; `kid` is the key that waits."""

    kid: str


@dataclass(frozen=True)
class KeyDoesNotOpen:
    """The secret is right and does not open this person's signing key: what is stored was changed."""


@dataclass(frozen=True, kw_only=True)
class Incomplete:
    """Something that must be said was left blank; `fields` names what."""

    fields: tuple[str, ...]
