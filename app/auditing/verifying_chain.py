"""People's keys as the log tells of them: each was confirmed by an earlier one, up to the founding two."""

import json
from collections.abc import Iterator
from typing import Any

from app.auditing.verifying_keys import is_alike, is_signed
from app.records import events
from app.records.kept import Entry
from app.records.key_chain import Founding, KeyHistory
from app.records.store_verification import Began, Failing
from app.storage import Reader


def key_steps(reader: Reader) -> Iterator[Failing | Began]:
    """What does not hold of how people's keys came to count, and with whom they began, each time."""
    history, stated = KeyHistory(), dict[str, dict[str, Any]]()
    entries = reader.key_entries()
    for entry in entries:
        fault = history.take(entry) or _fault_of_statement(entry, history, stated)
        if fault is not None:
            what = f"at {entry.position}: {fault}"
            yield Failing(about=f"the log's {entry.event.kind}", what=what)
    moments = {each.position: each for each in entries}
    for founding in history.foundings:
        yield _began(founding, moments[founding.position], stated)


def _fault_of_statement(entry: Entry, history: KeyHistory, stated: dict[str, dict[str, Any]]) -> str | None:
    """Whether the confirmer signed the statement; people alike do not confirm each other."""
    confirmed = entry.event
    if not isinstance(confirmed, events.PersonalKeyConfirmed):
        return None
    statement = stated[confirmed.kid] = json.loads(confirmed.statement)
    confirmer = history.find_made(confirmed.confirmer_kid)
    if confirmer is None or not is_signed(confirmed.signature, confirmed.statement, confirmer.public):
        return "the statement is not signed by the confirmer's key"
    by = stated.get(confirmed.confirmer_kid)
    return "by somebody of the same name or staff number" if by and is_alike(statement, by) else None


def _began(founding: Founding, entry: Entry, stated: dict[str, dict[str, Any]]) -> Began:
    first, second = (str(stated.get(each, {}).get("printed_name", "nobody")) for each in founding.kids)
    return Began(position=founding.position, at=entry.at, number=founding.number, first=first, second=second)
