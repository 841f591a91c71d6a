"""Compute a record's findings and doses again from its readings, and make its pages again from its data."""

import io
import re
from collections.abc import Callable, Iterator, Mapping
from copy import deepcopy
from datetime import datetime
from typing import Any
from zoneinfo import ZoneInfo

from app.base.damage import Damaged, read_or_damaged
from app.judging.engine import evaluated
from app.judging.findings import salted
from app.judging.judge import Against, Judged, Read, judge
from app.judging.rounds import PRIMED
from app.records.canonical import canonical
from app.records.followup import Severity
from app.records.kept import A, B
from app.records.kinds import kind_named
from app.records.known import known_in
from app.records.verification import Answer, Question
from app.reports.record import RecordSignature, render_record
from app.reports.record_file import RecordFile
from app.reports.renderer import is_this_renderer

OTHER_RENDERER = (
    "Another version of the program made the pages, and only that one could make them again. "
    "What both signed is the attached record; the seal shows that the pages are as the site made them."
)
_VERSION = re.compile(r"[A-Za-z0-9.+-]{1,40}")
# What another engine may say in other words.
WORDING = frozenset({"shown", "says", "slip", "origin", "key", "factor"})


def computed_again(document: Mapping[str, Any]) -> Answer:
    """Whether every comparison of the record is what its readings come to, by the engine of today."""
    engines: set[str] = set()
    wrong = read_or_damaged(lambda: tuple(_computed(document, engines)))
    if isinstance(wrong, Damaged):
        wrong = (f"it cannot be computed ({wrong.kind})",)
    if wrong:
        return Answer(question=Question.COMPUTED, holds=False, says=f"It does not: {'; '.join(wrong)}.")
    return Answer(question=Question.COMPUTED, holds=True, says=_engines_said(engines))


def _engines_said(engines: set[str]) -> str:
    # A version is repeated only where it looks like one: a file from anywhere may say anything there.
    others = sorted({each if _VERSION.fullmatch(each) else "another version" for each in engines if each})
    if not others:
        return "Every reading compared again gives the same findings and the same doses, to the last digit."
    same = "the engine of today comes to the same codes, severities and exact values"
    return f"The record was computed by {' and '.join(others)}; {same}."


def _computed(document: Mapping[str, Any], engines: set[str]) -> Iterator[str]:
    compared = [each for each in document["rounds"] if "comparison" in each]
    if not compared:
        yield "no reading was compared"
    for each in compared:
        judged = _judged(document, each)
        about = f"reading {each['round']}"
        if canonical(judged.case) != canonical(each["case"]):
            yield f"{about}: what was compared is not what was read"
            continue
        told = each["comparison"]
        same_engine = told["engine"] == judged.engine
        engines.add("" if same_engine else str(told["engine"]))
        if not _same(told, judged, wording=same_engine):
            yield f"{about}: the findings or doses are others"
    yield from (
        f"the primed volume, reading {each['reading']}: it is not judged as the engine judges it"
        for each in document.get("priming", ())
        if not _primed_alike(document, each)
    )


def _primed_alike(document: Mapping[str, Any], each: Mapping[str, Any]) -> bool:
    """Whether a primed volume comes to the same beside the round that it was held against."""
    (against,) = (one for one in document["rounds"] if one["round"] == each["against"])
    case = deepcopy(dict(against["case"]))
    case["entries"][(A, B).index(each["by"])]["primed_volume"] = each["volume"]
    _, result = evaluated(case)
    found = [(one.code, one.severity.value) for one in result.findings if one.field == PRIMED]
    drug = result.as_json()["delivery"][each["by"]]["primed_drug"]
    told = [(one["code"], one["severity"]) for one in each["findings"]]
    stands = not any(severity == Severity.STOP for _, severity in found)
    return (told, each["within"], each["primed_drug"]) == (found, stands, drug)


def _judged(document: Mapping[str, Any], each: Mapping[str, Any]) -> Judged:
    """One round judged again from both readings, by the rules and beside what was known that day."""
    zone, case = ZoneInfo(document["zone"]), each["case"]
    first, second = (
        Read(
            answers=each["readings"][letter],
            at=datetime.fromisoformat(each["handed_in"][letter]["at"]).astimezone(zone),
        )
        for letter in (A, B)
    )
    account = each["comparison"].get("account")
    rules = Against(
        policy=case["policy"],
        library=case["library"],
        account=account["policy"] if account else {},
        protocol=each["comparison"].get("protocol") or {},
    )
    known = known_in(case, each["comparison"])
    return judge(kind_named(document["check"]["kind"]), first, second, known=known, rules=rules)


def _same(told: Mapping[str, Any], judged: Judged, *, wording: bool) -> bool:
    """Whether the kept comparison says what was computed now; the words count for the same engine only."""
    computed = {
        "verdict": judged.verdict.value,
        "not_judged": list(judged.not_judged),
        "findings": [each.as_data() for each in salted(judged.findings, told.get("salt", ""))],
        "math": judged.math,
        "delivery": judged.delivery,
        "account": {**told["account"], "result": judged.account} if told.get("account") else None,
        "changed": None if told.get("changed") is None else list(judged.changed),
    }
    return same_values(told, computed, without=frozenset() if wording else WORDING)


def same_values(
    told: Mapping[str, Any], computed: Mapping[str, Any], *, without: frozenset[str] = WORDING
) -> bool:
    """Whether two comparisons come to the same codes, severities and exact values."""
    return all(
        canonical(_without(told.get(name), without)) == canonical(_without(computed.get(name), without))
        for name in ("verdict", "not_judged", "findings", "math", "delivery", "account", "changed")
    )


def _without(value: Any, names: frozenset[str]) -> Any:  # noqa: ANN401  # any JSON value
    if isinstance(value, Mapping):
        return {name: _without(each, names) for name, each in value.items() if name not in names}
    if isinstance(value, list):
        return [_without(each, names) for each in value]
    return value


def pages_say_the_same(file: RecordFile, signatures: tuple[RecordSignature, ...]) -> Answer:
    """Whether the pages made again from the attached data are the file's, to the byte or to the word.

    Another renderer's are not made again: a word that changed since then says nothing against the file.
    """
    if not is_this_renderer(file.renderer):
        return Answer(question=Question.PAGES, holds=None, says=OTHER_RENDERER)
    return same_pages(
        file.content,
        lambda: render_record(
            file.document, digest=file.record_digest, signatures=signatures, proof=file.proof
        ),
    )


def same_pages(content: bytes, render: Callable[[], bytes]) -> Answer:
    """Whether a file begins with the pages made again, or says the same words."""
    pages = read_or_damaged(render)
    if isinstance(pages, Damaged):
        says = f"The pages cannot be made again from what is attached ({pages.kind})."
        return Answer(question=Question.PAGES, holds=False, says=says)
    # A seal is added behind the pages and leaves them as they were.
    to_the_byte = content.startswith(pages)
    same = to_the_byte or _words(content) == _words(pages)
    if to_the_byte:
        says = "Made again from what is attached, the pages are the same to the last byte."
    elif same:
        says = "Made again from what is attached, the pages say the same words, laid out otherwise."
    else:
        says = "The pages do not say what is attached."
    return Answer(question=Question.PAGES, holds=same, says=says)


def _words(content: bytes) -> list[str]:
    from pypdf import PdfReader  # noqa: PLC0415  # only where bytes differ

    return " ".join(page.extract_text() for page in PdfReader(io.BytesIO(content)).pages).split()
