"""Judge again what was read, by other rules: what they would have found of it."""

from datetime import datetime

from app.judging.judge import Read, judge
from app.judging.rounds import against
from app.records.followup import Found
from app.records.kept import A, B, KeptComparison
from app.records.kinds import Kind
from app.records.known import known_in
from app.records.rules import Rules


def found_again(kept: KeptComparison, kind: Kind, rules: Rules) -> tuple[Found, ...]:
    """What is found of a kept round by these rules, beside what was known then."""
    opened = kept.opened
    read_at = {each["clinician"]: each["read_at"] for each in opened["case"]["entries"]}
    first, second = (
        Read(answers=opened["answers"][letter], at=datetime.fromisoformat(read_at[letter]))
        for letter in (A, B)
    )
    known = known_in(opened["case"], kept.told).given_to(kind)
    return judge(kind, first, second, known=known, rules=against(rules, kind, first.answers)).findings
