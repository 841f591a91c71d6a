"""What a file shows of the log's entries about people's keys, and the walk from a key to where they began."""

import json
from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

from app.base import OPERATOR
from app.keys import CONFIRMATION_TYPE, Verified, key_id, verify_detached
from app.people import folded, is_same_name
from app.records.checkpoint import Checkpoint, Place, holds
from app.records.events import Event, KeysFounded, PersonalKeyConfirmed, PersonalKeyMade
from app.records.key_chain import Chain, Founding, Link, NoChain, chain_of
from app.reports.attachments import ConfirmedKey, LogProof


@dataclass(frozen=True, kw_only=True)
class ShownKey:
    """A key of which the log says that it was made and confirmed; what was stated is signed by nobody yet."""

    made: Mapping[str, Any]
    confirmed: Mapping[str, Any]
    stated: Mapping[str, Any]
    position: int

    @property
    def kid(self) -> str:
        """The key's id."""
        return str(self.made["kid"])

    @property
    def name(self) -> str:
        """What the key's person was called when it was confirmed."""
        return str(self.stated["printed_name"])

    @property
    def is_by_operator(self) -> bool:
        """Whether the code for it was given by whoever had the command line."""
        return bool(self.made["issuer"] == OPERATOR)


def read_keys(proof: LogProof) -> dict[str, ShownKey]:
    """The keys that a file shows, by their ids; what does not hold together is left out."""
    shown = (_shown(each, proof.checkpoint) for each in proof.keys)
    return {each.kid: each for each in shown if each is not None}


def read_foundings(proof: LogProof) -> tuple[Founding, ...]:
    """Where the file shows that the keys of the site began, and began anew."""
    told = [(place, event_at(place, proof.checkpoint, KeysFounded)) for place in proof.foundings]
    return tuple(
        Founding(position=place.position, number=said["number"], kids=(said["first_kid"], said["second_kid"]))
        for place, said in told
        if said is not None
    )


def walk(kid: str, keys: Mapping[str, ShownKey], foundings: tuple[Founding, ...]) -> Chain | NoChain:
    """From a key to the founding two, every confirmation on the way being signed with an earlier key."""
    links = {
        each.kid: Link(kid=each.kid, confirmer_kid=each.confirmed["confirmer_kid"], position=each.position)
        for each in keys.values()
    }
    chain = chain_of(kid, links, foundings)
    if isinstance(chain, NoChain):
        return chain
    for each in chain.kids:
        key = keys[each]
        if not _is_confirmed_by(key, keys[key.confirmed["confirmer_kid"]]):
            return NoChain(says=f"{key.name}'s key was not confirmed by a second person")
    return chain


def _shown(key: ConfirmedKey, checkpoint: Checkpoint) -> ShownKey | None:
    made = event_at(key.made, checkpoint, PersonalKeyMade)
    confirmed = event_at(key.confirmed, checkpoint, PersonalKeyConfirmed)
    if made is None or confirmed is None:
        return None
    stated = json.loads(confirmed["statement"])
    holds_together = (
        made["kid"] == confirmed["kid"] == key_id(made["public"])
        and isinstance(stated, dict)
        and {**stated, **_said_by(made, confirmed)} == stated
        and {"printed_name", "staff_number"} <= stated.keys()
    )
    if not holds_together:
        return None
    return ShownKey(made=made, confirmed=confirmed, stated=stated, position=key.confirmed.position)


def _said_by(made: Mapping[str, Any], confirmed: Mapping[str, Any]) -> dict[str, Any]:
    """What the statement has to say, by the two entries."""
    names = {name: made[name] for name in ("kid", "public", "person")}
    return {**names, "confirmed_by": confirmed["confirmed_by"]}


def _is_confirmed_by(key: ShownKey, confirmer: ShownKey) -> bool:
    """Whether the confirmer's key signed the statement, and is somebody else's."""
    made, confirmed, by = key.made, key.confirmed, confirmer.made
    return (
        confirmed["confirmed_by"] == by["person"]
        and by["person"] not in {made["person"], made["issuer"]}
        and not is_alike(key.stated, confirmer.stated)
        and is_signed(confirmed["signature"], confirmed["statement"], by["public"])
    )


def is_alike(one: Mapping[str, Any], other: Mapping[str, Any]) -> bool:
    """Whether two statements name people of one printed name, or one staff number."""
    return is_same_name(str(one["printed_name"]), str(other["printed_name"])) or (
        folded(str(one["staff_number"])) == folded(str(other["staff_number"]))
    )


# One key signs many records, and its confirmation stands in the file of each.
@lru_cache(maxsize=1024)
def is_signed(signature: str, statement: str, public: str) -> bool:
    """Whether the statement carries the signature of a key."""
    found = verify_detached(signature, statement.encode(), public, typ=CONFIRMATION_TYPE)
    return isinstance(found, Verified)


# Both signatures of a file rest on the same entries, and those of a site on the same few keys.
@lru_cache(maxsize=64)
def event_at(place: Place, checkpoint: Checkpoint, kind: type[Event]) -> Mapping[str, Any] | None:
    """What an entry of this kind says, if it stands at its place under the checkpoint."""
    if not holds(place, checkpoint):
        return None
    written = json.loads(place.leaf)
    is_it = written.get("kind") == kind.kind and written.get("position") == place.position
    data = written.get("data")
    return data if is_it and isinstance(data, dict) else None
