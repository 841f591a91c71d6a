"""The chain from a person's key to the two people with whom the keys of the site began.

A key is confirmed with a key that was confirmed earlier. Only the two of a founding, at the host's command
line, confirm each other; it is open while no confirmed key is in use, and each founding stands in the log.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field

from app.records import events
from app.records.kept import Entry


@dataclass(frozen=True, kw_only=True)
class Link:
    """Where the log says that a key was confirmed, and with which key."""

    kid: str
    confirmer_kid: str
    position: int


@dataclass(frozen=True, kw_only=True)
class Founding:
    """Where the log says that two people began, and with which keys; the first of a site has number 1."""

    position: int
    number: int
    kids: tuple[str, str]


@dataclass(frozen=True, kw_only=True)
class Chain:
    """From a key over those of its confirmers to the founding two, and these two at its end."""

    kids: tuple[str, ...]
    founding: Founding


@dataclass(frozen=True, kw_only=True)
class NoChain:
    """The key does not lead to a founding; why, from where on."""

    says: str


def chain_of(kid: str, links: Mapping[str, Link], foundings: Iterable[Founding]) -> Chain | NoChain:
    """Walk from confirmer to confirmer, always to an earlier confirmation, until a founding."""
    by_kid = {each: founding for founding in foundings for each in founding.kids}
    walked: list[str] = []
    while kid not in by_kid:
        link = links.get(kid)
        if link is None:
            return NoChain(says="there is a key in it that nobody confirmed")
        walked.append(kid)
        before = links.get(link.confirmer_kid)
        if before is None or before.position >= link.position:
            return NoChain(says="a key in it was confirmed with one that was not confirmed before it")
        kid = link.confirmer_kid
    founding = by_kid[kid]
    if not _confirm_each_other(founding, links):
        return NoChain(says="the two at its beginning did not confirm each other")
    return Chain(kids=(*walked, *founding.kids), founding=founding)


def _confirm_each_other(founding: Founding, links: Mapping[str, Link]) -> bool:
    found = [links.get(each) for each in founding.kids]
    both = [each for each in found if each is not None and each.position > founding.position]
    return {(each.kid, each.confirmer_kid) for each in both} == {founding.kids, founding.kids[::-1]}


@dataclass
class KeyHistory:
    """What the log says of people's keys, entry by entry."""

    made: dict[str, Entry] = field(default_factory=dict)
    links: dict[str, Link] = field(default_factory=dict)
    foundings: list[Founding] = field(default_factory=list)
    retired: set[str] = field(default_factory=set)

    def take(self, entry: Entry) -> str | None:
        """Take an entry into account; what it does against the rules, where it does."""
        match entry.event:
            case events.PersonalKeyMade(kid=kid):
                self.made[kid] = entry
            case events.KeysFounded() as founded:
                return self._found(founded, entry.position)
            case events.PersonalKeyConfirmed() as confirmed:
                return self._confirm(confirmed, entry.position)
            case events.PersonalKeyRetired(kid=kid):
                self.retired.add(kid)
            case _:
                pass
        return None

    @property
    def is_open_to_founding(self) -> bool:
        """Whether no confirmed key is in use: before the first two, and when all were lost."""
        return not self.links.keys() - self.retired

    def leads_to_founding(self, kid: str) -> bool:
        """Whether a key was confirmed by one that was confirmed before it, and so on to a founding."""
        return isinstance(chain_of(kid, self.links, self.foundings), Chain)

    def _found(self, founded: events.KeysFounded, position: int) -> str | None:
        is_open, number = self.is_open_to_founding, len(self.foundings) + 1
        kids = (founded.first_kid, founded.second_kid)
        self.foundings.append(Founding(position=position, number=founded.number, kids=kids))
        if founded.number != number:
            return f"it calls itself founding {founded.number}, and is founding {number}"
        return None if is_open else "it is a founding while confirmed keys were in use"

    def _confirm(self, confirmed: events.PersonalKeyConfirmed, position: int) -> str | None:
        kid, own = confirmed.kid, confirmed.confirmer_kid
        fault = self._why_not(confirmed, position)
        self.links.setdefault(kid, Link(kid=kid, confirmer_kid=own, position=position))
        return fault

    def _why_not(self, confirmed: events.PersonalKeyConfirmed, position: int) -> str | None:
        kid, own = confirmed.kid, confirmed.confirmer_kid
        key, confirmer = self.find_made(kid), self.find_made(own)
        if key is None or confirmer is None or kid in self.links:
            return "a key that was not made, or was confirmed before"
        if confirmer.person != confirmed.confirmed_by or confirmer.person in (key.person, key.issuer):
            return "not by a second person, with a key of their own"
        if {kid, own} & self.retired:
            return "with or of a key that was retired"
        last = self.foundings[-1] if self.foundings else None
        founds = last is not None and position == last.position + 1 and {kid, own} == set(last.kids)
        return None if own in self.links or founds else "with a key that was not confirmed before it"

    def find_made(self, kid: str) -> events.PersonalKeyMade | None:
        """How a key was made."""
        entry = self.made.get(kid)
        return entry.event if entry is not None and isinstance(entry.event, events.PersonalKeyMade) else None


def history_of(entries: Iterable[Entry]) -> KeyHistory:
    """What the log says of people's keys, whatever it says against the rules."""
    history = KeyHistory()
    for each in entries:
        history.take(each)
    return history
