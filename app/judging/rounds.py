"""A judged round as it is kept: case and result as canonical bytes."""

from collections.abc import Mapping
from typing import Any
from zoneinfo import ZoneInfo

from app.comparison import ENGINE_VERSION
from app.judging.engine import primed_evaluated
from app.judging.findings import kept, salted
from app.judging.judge import Against, Judged, Read, judge
from app.records.canonical import canonical
from app.records.followup import Severity
from app.records.formats import COMPARISON, READ
from app.records.kept import FIRST, LETTER_OF, LETTERS, SECOND, KeptComparison
from app.records.kinds import Given, Kind
from app.records.known import Known
from app.records.policy import BaselineRule
from app.records.reading import Answers
from app.records.rules import LIBRARY, PACKS, Rules
from app.records.sources import JudgedBy
from app.records.state import Round

# What findings about the primed volume are about.
PRIMED = "primed_volume"


def compared(
    kind: Kind, rules: Rules, current: Round, answers: Mapping[int, Answers], *, known: Known, salt: str
) -> tuple[str, bytes, bytes]:
    """The engine's version, and case and result as they are kept, of one round of the sources."""
    # A use-by date lasts to the end of the day where the label is read, which is not Greenwich.
    zone = ZoneInfo(rules.policy.zone)
    first, second = (
        Read(answers=answers[slot], at=current.handed_in[slot].at.astimezone(zone))
        for slot in (FIRST, SECOND)
    )
    judged = judge(kind, first, second, known=known, rules=against(rules, kind, first.answers))
    document = {
        "format": COMPARISON.newest,
        "verdict": judged.verdict.value,
        "engine": judged.engine,
        "salt": salt,
        "not_judged": list(judged.not_judged),
        "findings": [each.as_data() for each in salted(judged.findings, salt)],
        "math": judged.math,
        "delivery": judged.delivery,
        "running": [each.as_data() for each in judged.beside],
        "orders": [each.as_data() for each in known.orders],
        "syringe": dict(known.syringe),
        "protocol": _protocol(rules.policy.baseline) if JudgedBy.PROTOCOL in kind.judges else None,
        "account": _account(judged, known, rules.policy.account) if Given.ACCOUNT in kind.given else None,
        "issued": [dict(each) for each in judged.issued],
        **({"loaded_again": judged.loaded_again} if JudgedBy.LOADED_AGAIN in kind.judges else {}),
        **({"unseen": judged.unseen} if JudgedBy.ON_DEVICE in kind.judges else {}),
        **({"changed": list(judged.changed)} if kind.changes else {}),
        "plan": judged.plan,
    }
    opened = {
        "format": READ.newest,
        "case": judged.case,
        "answers": {LETTER_OF[slot]: answers[slot] for slot in (FIRST, SECOND)},
        "versions": {
            "policy": rules.policy.version,
            "library": rules.content(LIBRARY)["version"],
            "packs": rules.content(PACKS)["version"],
        },
    }
    return judged.engine, canonical(opened), canonical(document)


def against(rules: Rules, kind: Kind, answers: Answers) -> Against:
    """The published rules, with prime and dead volume of the set in use from the site's list of packs.

    Where something is changed of what was primed before, slack alone is taken up.
    """
    volumes = _volumes(rules, answers.get("device", {}).get("pack"))
    if kind.changes:
        volumes.pop("prime_volume", None)
    return Against(
        policy={**rules.policy.engine, **volumes},
        library=rules.content(LIBRARY)["drugs"],
        account=rules.policy.account,
        protocol=_protocol(rules.policy.baseline),
        in_use=rules.policy.syringe_in_use,
    )


def _protocol(rule: BaselineRule) -> dict[str, Any]:
    """What of the site's protocol is judged by, as it is kept: levels are read with their scale."""
    return {
        "within": [rule.as_read(words) for key, words in rule.levels if key in rule.may_start_at],
        "lowest_respiratory_rate": rule.lowest_respiratory_rate,
    }


def _account(judged: Judged, known: Known, policy: Mapping[str, Any]) -> dict[str, Any]:
    """What was known of the account, by which rules it was judged, and what it comes to."""
    return {
        "entries": [dict(each) for each in known.account],
        "begun": known.begun,
        "spilt": [dict(each) for each in known.spilt],
        "settled": list(known.settled),
        "lowered": known.lowered,
        "in_hand": [dict(each) for each in known.syringes],
        "on": dict(known.on),
        "place": known.place,
        "off": dict(known.off),
        "next": known.next_name,
        "policy": dict(policy),
        "result": judged.account,
    }


def _volumes(rules: Rules, named: str | None) -> dict[str, Any]:
    for pack in rules.content(PACKS)["packs"]:
        if pack["key"] == named:
            return {name: pack[name] for name in ("prime_volume", "dead_volume")}
    return {}


def priming_judged(
    volume: str, *, by: int, reading: int, against: KeptComparison
) -> tuple[str, bytes, bytes]:
    """The primed volume that one of the two read, judged beside what both read of the sources in a round.

    The engine is given that round's case with the volume in the reader's entry. Its version, and case and
    result as they are kept; `within` says that no stop is found about it.
    """
    case, letter = against.opened["case"], LETTER_OF[by]
    entries = list(case["entries"])
    own = LETTERS.index(letter)
    entries[own] = {**entries[own], "primed_volume": volume}
    findings, drug = primed_evaluated({**case, "entries": entries}, letter)
    found = salted(map(kept, findings), _salt(against))
    stands = not any(each.severity == Severity.STOP for each in found)
    read = {
        "format": READ.newest,
        "reading": reading,
        "by": letter,
        "volume": volume,
        "against": against.round,
    }
    told = {
        "format": COMPARISON.newest,
        "engine": ENGINE_VERSION,
        "within": stands,
        "findings": [each.as_data() for each in found],
        "primed_drug": drug,
    }
    return ENGINE_VERSION, canonical(read), canonical(told)


def _salt(against: KeptComparison) -> str:
    return str(against.told.get("salt", ""))
