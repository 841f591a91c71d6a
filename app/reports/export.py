"""Records as JSON Lines and as one table, streaming: never more than one record in memory."""

import csv
import io
import json
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from app.records.field_table import TABLE as TABLE_OF_FIELDS
from app.records.followup import Found
from app.records.formats import RECORD, TABLE, UnknownFormat
from app.records.kept import LETTERS
from app.records.settled import findings_of, settle_in
from app.records.sources import Source
from app.reports.cells import guard
from app.reports.differences import last_compared
from app.words.independence import independence_words

# What only some sites ask for, with the words of each.
_ALSO_READ = {each.name: each.words for each in TABLE_OF_FIELDS if each.by_policy}

# Every column of the table and what it says; EXPORT.md is this table for people.
COLUMNS: dict[str, str] = {
    "record": "the record's id; a record has one row a finding, or one row without a finding",
    "edition": "which edition of the record, from 1",
    "format": "the format of the record's data",
    "table": "the format of this table",
    "invented": "whether the rules that it was made under are invented, never for a patient: yes or no",
    "site": "the site",
    "unit": "the unit",
    "bed": "the bed",
    "kind": "the kind of check",
    "infusion": "the infusion's id",
    "opened_at": "when the check was opened (UTC)",
    "steps_complete_at": "when the last safety step was confirmed (UTC)",
    "clinician_a": "printed name of A, the first nurse",
    "staff_number_a": "staff number of A",
    "clinician_b": "printed name of B, the second nurse",
    "staff_number_b": "staff number of B",
    "rounds": "how many pairs of readings there were",
    "rounds_voided": "how many of them were voided as not blind",
    "not_judged": "what the last pair did not look at: not read, or nothing is set for it",
    "account": "what the account came to in the last pair: agreed, cautioned or stopped; blank without one",
    "account_left": "the volume left in all syringes by the last count, exact, in mL",
    "account_difference": "the difference of the whole account, exact, in mL; plus means that more is gone",
    **{
        f"{name}_{letter.lower()}": f"{words} as {letter} read it last, where policy asks for it"
        for name, words in _ALSO_READ.items()
        for letter in LETTERS
    },
    "engine": "version of the engine",
    "policy": "version of the site's policy",
    "library": "version of the drug library",
    "round": "the pair of readings in which this was found, from 1",
    "compared_at": "when that pair was compared (UTC)",
    "independence": "how independent that pair was",
    "earlier_look": "whether one of the two had seen earlier values: yes or no",
    "severity": "stop, caution or note",
    "code": "the code of the finding",
    "field": "the field that it is about",
    "clinician": "A or B where only that one's readings show it",
    "group": "the group of cautions that it is settled with",
    "reasons": "why the patient is at risk, where it says so",
    "origin": "reading, order, supply or programming",
    "slip": "the slip that it is consistent with",
    "factor": "by which factor the two values differ",
    "says": "the finding in words",
    **{
        f"{letter}.{source.value}": f"what {letter} read from the {source.value}; (not read) if it was not"
        for source in Source
        for letter in LETTERS
    },
    "on_record": "the value on record, where there is one",
    "settled": "put right, read again, acknowledged, exception, for information or not settled",
    "settled_at": "when (UTC)",
    "settled_in_round": "the pair of readings in which it was gone",
    "settled_outcome": "how a third person settled it, where the two had asked for help",
    "seconds_to_settle": "from the comparison to then",
    **{
        f"{what}_{letter.lower()}": f"{says} {letter}"
        for letter in LETTERS
        for what, says in (
            ("reason", "the reason given in acknowledging, by"),
            ("named", "who was asked, as named by"),
            ("remark", "what was written beside it, by"),
        )
    },
    "exception_by": "who set the rule aside",
    "exception_reason": "why",
    "exception_prescriber": "the prescriber who was asked",
    "what_followed": "how the story of the record ended, once what followed it was told",
    "what_followed_digest": "SHA-256 of the sealed file that tells what followed",
}

_NOT_READ = "(not read)"
# An older record does not say it.
_YES_OR_NO = {True: "yes", False: "no", None: ""}
_SAID = ("severity", "code", "field", "clinician", "group", "origin", "slip", "factor", "says")


@dataclass(frozen=True, kw_only=True)
class Exported:
    """A record as it was signed and, once told, what followed it, with the digest of that sealed file."""

    record: bytes
    followed: bytes = b""
    followed_digest: str = ""


Row = dict[str, str]


def csv_lines(exported: Iterator[Exported]) -> Iterator[bytes]:
    """One table (RFC 4180, UTF-8, all quoted): a head, then a chunk of rows for each record."""
    yield _written([dict(zip(COLUMNS, COLUMNS, strict=True))])
    for each in exported:
        follows = _followed(each)
        yield _written([{**row, **follows} for row in _rows(json.loads(each.record))])


def _followed(each: Exported) -> Row:
    if not each.followed:
        return {}
    how = json.loads(each.followed)["ended"]["how"]
    return {"what_followed": how, "what_followed_digest": each.followed_digest}


def _written(rows: list[Row]) -> bytes:
    place = io.StringIO()
    writer = csv.DictWriter(place, COLUMNS, restval="", quoting=csv.QUOTE_ALL, lineterminator="\r\n")
    writer.writerows({name: guard(text) for name, text in row.items()} for row in rows)
    return place.getvalue().encode()


def _rows(document: Mapping[str, Any]) -> list[Row]:
    version = RECORD.find_version(document)
    if isinstance(version, UnknownFormat):
        named = {key: str(document.get(key, "")) for key in ("record", "edition", "format")}
        return [{**named, "table": TABLE.newest, "says": version.says}]
    common = _common(document)
    found = [
        {**common, **_round(each), **_finding(finding), **_settled(document, each, finding)}
        for each in document["rounds"]
        for finding in findings_of(each)
    ]
    return found or [common]


def _common(document: Mapping[str, Any]) -> Row:
    check, versions = document["check"], document["versions"]
    people = {
        f"{name}_{each['letter'].lower()}": each[key]
        for each in document["clinicians"]
        for name, key in (("clinician", "printed_name"), ("staff_number", "staff_number"))
    }
    return {
        "record": document["record"],
        "edition": str(document["edition"]),
        "format": document["format"],
        "table": TABLE.newest,
        "invented": _YES_OR_NO[document.get("invented")],
        "site": document["site"],
        **{key: check[key] for key in ("unit", "bed", "kind", "infusion", "opened_at")},
        "steps_complete_at": _steps_complete_at(document),
        **people,
        "rounds": str(len(document["rounds"])),
        "rounds_voided": str(sum(bool(each["voided"]) for each in document["rounds"])),
        "not_judged": _listed(last_compared(document)["comparison"]["not_judged"]),
        **_account(last_compared(document)["comparison"]),
        **_also_read(last_compared(document)["readings"]),
        # The engine says its own version with each result; the versions of a record are those of its rules.
        "engine": last_compared(document)["comparison"]["engine"],
        **{key: versions.get(key, "") for key in ("policy", "library")},
    }


def _account(comparison: Mapping[str, Any]) -> Row:
    """What the account came to, as the engine has it; an older record has none."""
    account = comparison.get("account")
    if not account or account["result"] is None:
        return {}
    volume = account["result"]["infusion"]["volume"]
    left, difference = (volume[name]["exact"] if volume[name] else "" for name in ("left", "difference"))
    verdict = account["result"]["verdict"]
    return {"account": verdict, "account_left": left, "account_difference": difference}


def _also_read(readings: Mapping[str, Mapping[str, Mapping[str, str]]]) -> Row:
    """What only some sites ask for, where it was read."""
    return {
        f"{name}_{letter.lower()}": read[name]
        for letter in LETTERS
        for read in readings[letter].values()
        for name in _ALSO_READ
        if name in read
    }


def _listed(names: Iterable[str]) -> str:
    return ", ".join(names)


def _steps_complete_at(document: Mapping[str, Any]) -> str:
    times = [
        step[part]["at"]
        for step in document.get("safety_steps", {"steps": ()})["steps"]
        for part in ("done", "verified")
        if part in step
    ]
    return max(times, key=datetime.fromisoformat, default="")


def _round(each: Mapping[str, Any]) -> Row:
    return {
        "round": str(each["round"]),
        "compared_at": each["compared_at"],
        "independence": independence_words(each["independence"]),
        "earlier_look": "yes" if each["independence"]["earlier_look"] else "no",
    }


def _finding(found: Found) -> Row:
    return {
        **{key: getattr(found, key) for key in _SAID},
        "reasons": _listed(found.reasons),
        **{_column(name): _NOT_READ if text is None else text for name, text in found.readings.items()},
    }


def _column(reading: str) -> str:
    """The column of a reading: `A` alone is the wristband, and what is neither A's nor B's is on record."""
    if reading in LETTERS:
        return f"{reading}.{Source.WRISTBAND.value}"
    return reading if reading in COLUMNS and reading != "record" else "on_record"


def _settled(document: Mapping[str, Any], each: Mapping[str, Any], found: Found) -> Row:
    settled = settle_in(document, each["round"], found)
    row = {"settled": settled.how.value, "settled_outcome": settled.outcome}
    if settled.at is not None:
        taken = settled.at - datetime.fromisoformat(each["compared_at"])
        row["settled_at"] = settled.at.isoformat(timespec="seconds")
        row["seconds_to_settle"] = str(int(taken.total_seconds()))
    if settled.round is not None:
        row["settled_in_round"] = str(settled.round)
    return {**row, **_answers(document, found)}


def _answers(document: Mapping[str, Any], found: Found) -> Row:
    row: Row = {}
    for each in document["acknowledgements"]:
        if each["finding"] == found.key:
            letter = each["clinician"].lower()
            answer = {"reason": each["reason"], "named": each["named"], "remark": each["text"]}
            row.update({f"{name}_{letter}": text for name, text in answer.items()})
    for each in document["exceptions"]:
        if each["finding"] == found.key:
            answer = {"by": each["by"], "reason": each["reason"], "prescriber": each["prescriber"]}
            row.update({f"exception_{name}": text for name, text in answer.items()})
    return row
