"""The account of infusions once more, in SQL: from the rows of log and comparisons, apart from the fold.

It is asked by whoever verifies. Volumes are whole numbers of a millionth of a microlitre, masses of a
millionth of a microgram, times of a millisecond; no binary fraction is made of any. Engines share the text:
`{log.said:data.way}` is a text in a column of JSON, `[mL x]`, `[mg x]`, `[at x]` a number made of a text.
"""

import json
import re
from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import timedelta
from fractions import Fraction
from functools import cache
from typing import Any

from sqlalchemy import Connection, RowMapping, TextClause, bindparam, text
from sqlalchemy.exc import DBAPIError

from app.records.account_entries import UNREAD
from app.records.account_order import PUT_BACK
from app.records.course_kinds import COURSE
from app.records.field_table import MODES_WITH_DEMANDS
from app.records.kinds import KINDS, Syringe, Totals
from app.records.stated import LONGEST_AGO
from app.records.taken_back import IN_SYRINGE, SPILT
from app.storage.recount_sql import MOVES, SUMS

_MICRO = 10**9
"""Into how many parts each mL, and each mg, is counted."""
_BEFORE_POSITIONS = 10**15
"""Added to a position of the log: as texts of one length they are in its order."""
_LONGEST_AGO = LONGEST_AGO // timedelta(milliseconds=1)
# What the engines say of bytes that are no JSON, and of text that is no number.
_NOT_JSON, _NOT_DATA = "malformed JSON", "22"


class RowUnreadable(Exception):  # noqa: N818  # named for what happened
    """A row holds what no program of ours wrote."""


@dataclass(frozen=True, kw_only=True)
class Recounted:
    """One syringe in mL, in the words of the account's contract; None where nobody can say it."""

    name: str
    loaded: Fraction
    primed: Fraction
    delivered_by_device: Fraction | None
    not_read: Fraction | None
    wasted: Fraction
    returned: Fraction
    kept: Fraction
    left: Fraction | None

    @property
    def difference(self) -> Fraction | None:
        """What is in no other place."""
        delivered, not_read, left = self.delivered_by_device, self.not_read, self.left
        if delivered is None or not_read is None or left is None:
            return None
        gone = self.primed + self.wasted + self.returned + self.kept
        return self.loaded - gone - delivered - not_read - left


class RecountReader:
    """The account, recounted."""

    _connection: Connection

    def recounted(
        self, infusions: Collection[str], *, counts_bolus: bool, counts_loading: bool, counts_prime: bool
    ) -> dict[str, tuple[Recounted, ...]]:
        """Each syringe of these infusions, in the order in which they came in.

        `counts_bolus`, `counts_loading`, `counts_prime`: whether the device's totals count what is given, and
        primed, apart.
        """
        engine, named = self._connection.dialect.name, {"infusions": list(infusions)}
        counts = {
            "counts_bolus": int(counts_bolus),
            "counts_loading": int(counts_loading),
            "counts_prime": int(counts_prime),
        }
        try:
            # So that a row that cannot be read takes nothing else of the snapshot with it.
            with self._connection.begin_nested():
                moves = self._connection.execute(_moves(engine), named).mappings().all()
                written = {"moves": json.dumps([_plain(each) for each in moves])}
                rows = self._connection.execute(_sums(engine), {**written, **counts}).mappings().all()
        except DBAPIError as error:
            if _NOT_JSON in str(error.orig) or str(getattr(error.orig, "sqlstate", "")).startswith(_NOT_DATA):
                raise RowUnreadable from None
            raise
        found: dict[str, list[Recounted]] = {each: [] for each in infusions}
        for infusion, syringe in _syringes(rows):
            found[infusion].append(syringe)
        return {infusion: tuple(each) for infusion, each in found.items()}


def _syringes(rows: Sequence[RowMapping]) -> Iterator[tuple[str, Recounted]]:
    """A row for each syringe, and one for each rise of the device's totals that came out of it."""
    given: dict[tuple[str, int], Fraction] = {}
    for each in rows:
        if each["what"] == "given":
            place = (each["infusion"], each["no"])
            # In mL by the device, or in mg at the strength to which it was set.
            rise = Fraction(
                whole_number(each["rise"]) * whole_number(each["per"]), whole_number(each["mass"]) * _MICRO
            )
            given[place] = given.get(place, Fraction(0)) + rise
    for each in rows:
        if each["what"] == "syringe":
            counted = given.get((each["infusion"], each["no"]), Fraction(0)) if each["counted"] else None
            yield (
                each["infusion"],
                Recounted(
                    name=str(each["no"]),
                    loaded=Fraction(whole_number(each["volume"]), _MICRO),
                    primed=Fraction(whole_number(each["primed"]), _MICRO),
                    delivered_by_device=counted,
                    not_read=_find(each["not_read"]),
                    wasted=Fraction(whole_number(each["wasted"]), _MICRO),
                    returned=Fraction(whole_number(each["returned"]), _MICRO),
                    kept=Fraction(whole_number(each["kept"]), _MICRO),
                    left=_find(each["remains"]),
                ),
            )


def _plain(row: RowMapping) -> dict[str, Any]:
    """A move, to be given to the engine again."""
    return {
        name: value if isinstance(value, str | None) else whole_number(value) for name, value in row.items()
    }


def _find(number: Any) -> Fraction | None:  # noqa: ANN401  # what the driver gives
    return None if number is None else Fraction(whole_number(number), _MICRO)


def whole_number(number: Any) -> int:  # noqa: ANN401  # likewise
    """A number too large for the engine's whole ones comes as a binary fraction, and counts for nothing."""
    if int(number) != number or isinstance(number, float):
        raise RowUnreadable
    return int(number)


_MOMENTS = {
    "sqlite": "(CAST(strftime('%s', {0}) AS BIGINT) * 1000 + CAST(substr(strftime('%f', {0}), 4) AS BIGINT))",
    "postgresql": "CAST(floor(extract(epoch FROM CAST({0} AS timestamptz)) * 1000) AS BIGINT)",
}
_MASSES = {"mg": 1000, "mcg": 1, "g": 1_000_000}
_VOLUMES = {"mL": 1000, "L": 1_000_000}
_STRENGTHS = {"mg/mL": 1000, "mcg/mL": 1, "g/L": 1000, "mg/L": 1}
"""Units as they may be written, in thousandths of the one that is counted in."""


def _number(x: str, units: Mapping[str, int]) -> str:
    """What `12.5 mL` states, as a whole number: the digits, filled up to six decimals, times its unit."""
    number = f"substr({x}, 1, instr({x}, ' ') - 1)"
    unit = f"substr({x}, instr({x}, ' ') + 1)"
    point = f"instr({number}, '.')"
    decimals = f"(CASE WHEN {point} > 0 THEN length({number}) - {point} ELSE 0 END)"
    digits = f"CAST(replace({number}, '.', '') || substr('000000', 1 + {decimals}) AS BIGINT)"
    factors = " ".join(f"WHEN '{name}' THEN {factor}" for name, factor in units.items())
    return f"({digits} * CASE {unit} {factors} END)"


def _strength_mass(x: str) -> str:
    """The mass of `6 mg/30 mL`, or that in one mL of `0.2 mg/mL`."""
    whole = _number(f"substr({x}, 1, instr({x}, '/') - 1)", _MASSES)
    return f"(CASE WHEN {x} LIKE '% % %' THEN {whole} ELSE {_number(x, _STRENGTHS)} END)"


def _strength_volume(x: str) -> str:
    """The volume of `6 mg/30 mL`, or one mL."""
    whole = _number(f"substr({x}, instr({x}, '/') + 1)", _VOLUMES)
    return f"(CASE WHEN {x} LIKE '% % %' THEN {whole} ELSE {_MICRO} END)"


MADE_OF_TEXT = {
    "mg": lambda x: _number(x, _MASSES),
    "mL": lambda x: _number(x, _VOLUMES),
    "strength-mass": _strength_mass,
    "strength-volume": _strength_volume,
}


def _is_same(one: tuple[str, str], other: tuple[str, str]) -> str:
    """Whether two strengths are one: cross products, in parts that stay within the engine's whole numbers."""
    (mass, per), (other_mass, other_per) = one, other
    low = f"({mass} * ({other_per} % 1000000) - {other_mass} * ({per} % 1000000))"
    high = f"({other_mass} * ({per} / 1000000) - {mass} * ({other_per} / 1000000))"
    return f"({low} % 1000000 = 0 AND {low} / 1000000 = {high})"


def _alike(path: str) -> str:
    """What both gave, as the first wrote it; a source that one alone read counts as read by both."""
    one, other = (f"{{parts.{each}:{path}}}" for each in ("e0", "e1"))
    source = path.partition(".")[0]
    return (
        f"(CASE WHEN {{parts.e0:{source}}} IS NULL THEN {other} "
        f"WHEN {{parts.e1:{source}}} IS NULL OR {other} IS NOT NULL THEN {one} END)"
    )


def _label() -> str:
    """All that a label says, by which one syringe is told from another."""
    from_one = (
        f"coalesce({{parts.e0:label.{each}}}, {{parts.e1:label.{each}}}, '')" for each in ("lot", "code")
    )
    by_both = ("patient.identifier", "drug", "amount", "volume", "concentration", "use_by", "syringe_size")
    return " || '|' || ".join((*from_one, *(f"coalesce({_alike(f'label.{each}')}, '')" for each in by_both)))


_IS_ON = "(w.is_on > 0 AND e.by_label = 1 AND w.label = e.label)"
_KNOWN = "instr(w.places, e.place)"
# What both read on the device that nobody had checked there.
_FOUND = "(e.does IN ('check-done', 'stays'))"
_SEEN_BEFORE = "(e.unseen BETWEEN 1 AND w.issued)"
_BEGINS = (
    "(e.does = 'check-done' AND w.is_on = 0 AND w.began IS NOT NULL AND e.is_set = 1 "
    f"AND (e.whole = 1 OR {_SEEN_BEFORE}))"
)
_UNSEEN = (
    f"({_FOUND} AND w.is_on > 0 AND e.unseen > 0 AND e.unseen <> w.is_on AND (e.whole = 1 OR {_SEEN_BEFORE}))"
)
_ANOTHER = f"(e.does = 'another' OR e.does = 'by-label' AND NOT {_IS_ON} OR {_BEGINS} OR {_UNSEEN})"
_NEVER_ON = f"(e.does = 'of-label' AND NOT {_IS_ON} AND {_KNOWN} = 0)"
_AGAIN = f"(e.again BETWEEN 1 AND w.issued AND NOT {_FOUND} OR {_FOUND} AND {_SEEN_BEFORE})"
_WHICH = f"(CASE WHEN {_FOUND} THEN e.unseen ELSE e.again END)"
_COMES = f"(({_ANOTHER} OR {_NEVER_ON}) AND e.whole = 1 AND NOT {_AGAIN})"
_GOES = (
    f"(w.is_on > 0 AND (e.does IN ('another', 'evidence-kept', 'infusion-ended') OR {_UNSEEN} "
    f"OR e.does = 'by-label' AND NOT {_IS_ON} "
    f"OR e.does = 'of-label' AND {_KNOWN} = 0 AND NOT {_AGAIN} AND {_IS_ON} "
    f"OR e.does = 'of-label' AND {_KNOWN} = 0 AND e.by_label = 0 AND e.again = w.is_on "
    "OR e.does = 'of-name' AND e.held_in = :in_syringe AND e.by_name = w.is_on))"
)
_PUTS = _ANOTHER
_READ = f"(e.does IN ('another', 'by-label') OR {_FOUND} AND (w.is_on > 0 OR {_BEGINS}))"
_OFF = (
    "(w.went > 0 AND e.read_at IS NOT NULL "
    "AND (e.does IN ('another', 'of-name', 'infusion-ended', 'evidence-kept') "
    "OR e.does = 'of-label' AND e.by_label = 0))"
)
# Of several starts that nobody had checked, the first; or the last before which what was on was read.
_HURRIED = "(e.does = 'started-without-check' AND (w.began IS NULL OR w.is_on > 0 AND e.read_at IS NOT NULL))"
_FOUND_AT = "coalesce(w.since, e.read_at, e.at)"
_SET_PER = "(CASE WHEN m.mass IS NULL THEN w.label_per ELSE m.per END)"
_READS = "(m.what IN ('read', 'removed') AND coalesce(m.amount, m.given) IS NOT NULL)"
_WENT_BACK = (
    "(coalesce(m.amount < w.high_amount, 1 = 0) OR coalesce(m.given < w.high_given, 1 = 0) "
    "OR coalesce(m.presses < w.presses, 1 = 0) OR coalesce(m.doses < w.doses, 1 = 0))"
)
_TEXTS, _NUMBERS = ("infusion", "what"), ("n", "no", "volume", "amount", "given", "presses", "doses")
_MOVE = {**dict.fromkeys(_TEXTS, "text"), **dict.fromkeys((*_NUMBERS, "remains", "mass", "per"), "bigint")}
_COLUMNS = {
    "sqlite": ", ".join(f"json_extract(value, '$.{name}') AS {name}" for name in _MOVE),
    "postgresql": "*",
}
_ROWS = {
    "sqlite": "json_each(:moves)",
    "postgresql": "jsonb_to_recordset(CAST(:moves AS jsonb)) AS given_moves("
    + ", ".join(f"{name} {kind}" for name, kind in _MOVE.items())
    + ")",
}
_WORDS = {
    "<same>": _IS_ON,
    "<known>": _KNOWN,
    "<again>": _AGAIN,
    "<which>": _WHICH,
    "<found>": _FOUND,
    "<found at>": _FOUND_AT,
    "<read>": _READ,
    "<hurried>": _HURRIED,
    "<off>": _OFF,
    "<comes>": _COMES,
    "<goes>": _GOES,
    "<puts>": _PUTS,
    "<alike>": _is_same(("coalesce(m.mass, w.label_mass)", _SET_PER), ("w.set_mass", "w.set_per")),
    "<begins>": "m.what IN ('device', 'cleared')",
    "<reads>": _READS,
    "<fresh>": f"({_READS} OR m.what IN ('device', 'cleared'))",
    "<back>": _WENT_BACK,
    "<left>": "x.what IN ('primed', 'wasted', 'returned', 'kept')",
    "[label]": _label(),
}
_AWARE = "{0} LIKE '____-__-__T__:__%' AND ({0} LIKE '%Z' OR substr({0}, length({0}) - 5, 1) IN ('+', '-'))"
_MACRO = re.compile(r"\[(at|json|stated|high|last|mg|mL|strength-mass|strength-volume) ([^\[\]]+)\]")
_ALIKE = re.compile(r"\{alike ([\w.]+)\}")
_STEP = re.compile(r"\.?(\w+)")
_PART = re.compile(r"\{(\w+\.\w+)([:>])([\w.]+)\}")
_KINDS = (
    "started",
    "check-done",
    "led-to-check",
    "infusion-ended",
    "started-without-check",
    "drug-taken-back",
    "evidence-kept",
    "evidence-released",
    "stop-misplaced",
    "staff-bolus-given",
)


@cache
def _moves(engine: str) -> TextClause:
    """The first statement in the words of an engine."""
    kinds = KINDS.values()
    lists = {
        "kinds": _KINDS,
        "another": [each.name for each in kinds if each.puts_one_on],
        "by_label": [each.name for each in kinds if each.syringe is Syringe.BY_LABEL],
        "begins_totals": [each.name for each in kinds if each.totals is not Totals.GO_ON],
        "of_another_device": [each.name for each in kinds if each.totals is Totals.OF_ANOTHER_DEVICE],
        "gives_loading": [each.name for each in kinds if each.gives_loading],
        "course": COURSE,
        "with_demands": MODES_WITH_DEMANDS,
    }
    return text(_said(engine, MOVES)).bindparams(
        bindparam("infusions", expanding=True),
        *(bindparam(name, list(each), expanding=True) for name, each in lists.items()),
        bindparam("in_syringe", IN_SYRINGE),
        bindparam("put_back", PUT_BACK // timedelta(milliseconds=1)),
        bindparam("spilt", SPILT),
        bindparam("unread", UNREAD),
    )


@cache
def _sums(engine: str) -> TextClause:
    """The second, which is given what the first one gave."""
    return text(_said(engine, SUMS.replace("[columns]", _COLUMNS[engine]).replace("[rows]", _ROWS[engine])))


def _said(engine: str, statement: str) -> str:
    said = _ALIKE.sub(lambda found: _alike(found[1]), statement)
    for word, meaning in _WORDS.items():
        said = said.replace(word, meaning)
    said = _PART.sub(lambda found: _part(engine, found[1], found[2], found[3]), said)
    said = _MACRO.sub(lambda found: _made(engine, found[1], found[2]), said)
    return said.replace("instr(", "strpos(") if engine == "postgresql" else said


def _part(engine: str, column: str, what: str, path: str) -> str:
    """A text within JSON, or (`>`) a part of it."""
    if engine == "sqlite":
        return f"json_extract({column}, '${_STEP.sub(_in_sqlite, path)}')"
    return f"({column} {'#>>' if what == ':' else '#>'} '{{{path.replace('.', ',')}}}')"


def _in_sqlite(step: re.Match[str]) -> str:
    """One step of a path: a place in a list, or a name."""
    return f"[{step[1]}]" if step[1].isdigit() else f".{step[1]}"


def _made(engine: str, what: str, x: str) -> str:
    """What is made of a text."""
    if what == "json":
        return f"CAST({x} AS TEXT)" if engine == "sqlite" else f"convert_from({x}, 'UTF8')::jsonb"
    if what == "at":
        return _MOMENTS[engine].format(x)
    if what == "stated":
        moment = _MOMENTS[engine].format(x)
        is_one = f"{moment} BETWEEN at - {_LONGEST_AGO} AND at"
        return f"(CASE WHEN {_AWARE.format(x)} AND {is_one} THEN {moment} ELSE at END)"
    if what == "last":
        newest = f"max(CASE WHEN {x} <> '' THEN CAST({_BEFORE_POSITIONS} + position AS TEXT) || {x} END)"
        return f"substr({newest}, {len(str(_BEFORE_POSITIONS)) + 1})"
    if what == "high":
        return f"(CASE WHEN {_WENT_BACK} THEN 0 ELSE {x} END)"
    return MADE_OF_TEXT[what](x)
