"""What is written now, written as it was before: formats that said no version, and the record's version 1.

The versions are made up: none was ever released. They are there so that what reads an older one is tried.
"""

import json
from collections.abc import Iterator, Mapping
from contextlib import ExitStack, contextmanager
from datetime import datetime
from typing import Any
from unittest.mock import patch

from app.judging import rounds
from app.records import sealed, written
from app.records.canonical import canonical
from app.records.events import Event, PersonNamed, UnitNamed
from app.records.formats import RECORD
from app.records.site_events import AccountStands
from app.site import record
from app.storage import Transaction, journal
from app.workflow import freezing, proposing, publishing

_NOT_IN_1 = ("stops", "baselines", "line_sets", "invented", "as_it_stands")


def as_record_1(document: Mapping[str, Any]) -> dict[str, Any]:
    """Version 1 says units and whoever did something by the name alone; nothing of stops, or line sets."""
    return {
        **{key: value for key, value in document.items() if key not in _NOT_IN_1},
        "format": RECORD.said(1),
        "check": _without(document["check"], "unit_id"),
        "rounds": [_round_1(each) for each in document["rounds"]],
        "exceptions": [_without(each, "person") for each in document["exceptions"]],
        "help": [_without(each, "taken_by_person") for each in document["help"]],
        "baseline": _without(document["baseline"], "person"),
        "safety_steps": _without(document["safety_steps"], "patient_differed"),
    }


def _round_1(said: Mapping[str, Any]) -> dict[str, Any]:
    """Nothing of six digits either."""
    independence = _without(_without(said["independence"], "unlocked"), "unlocked_together")
    handed_in = {letter: _without(each, "method") for letter, each in said.get("handed_in", {}).items()}
    put_right = _without(said.get("put_right", {}), "person")
    return {
        **said,
        "independence": independence,
        **({"handed_in": handed_in} if handed_in else {}),
        **({"put_right": put_right} if put_right else {}),
    }


@contextmanager
def records_of_version_1() -> Iterator[None]:
    """Every record is frozen in version 1."""

    def older(*said: Any, **more: Any) -> dict[str, Any]:  # noqa: ANN401  # as the newest takes them
        return as_record_1(record.document_of(*said, **more))

    with patch.object(freezing, "document_of", older):
        yield


@contextmanager
def written_as_before() -> Iterator[None]:
    """Nothing but a record says its version, and the log names nobody."""
    append, publish = journal.Journal.append, proposing.keep_version

    def unsaid(document: Any) -> bytes:  # noqa: ANN401  # any JSON
        return canonical(_without(document, "format"))

    def naming_nobody(self: journal.Journal, event: Event, **more: Any) -> object:  # noqa: ANN401  # passed on
        return (
            None
            if isinstance(event, PersonNamed | UnitNamed | AccountStands)
            else append(self, event, **more)
        )

    def published(tx: Transaction, now: datetime, what: str, content: bytes, *, since: datetime) -> None:
        publish(tx, now, what, canonical(_without(json.loads(content), "format")), since=since)

    with ExitStack() as patched:
        patched.enter_context(records_of_version_1())
        for module in (written, rounds, sealed):
            patched.enter_context(patch.object(module, "canonical", unsaid))
        patched.enter_context(patch.object(journal.Journal, "append", naming_nobody))
        patched.enter_context(patch.object(publishing, "keep_version", published))
        yield


def _without(said: Mapping[str, Any], name: str) -> dict[str, Any]:
    return {key: value for key, value in said.items() if key != name}
