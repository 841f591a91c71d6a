"""What the patient would get, as ordered and from this device with this syringe, by the engine's figures."""

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from app.dosing import at_strength
from app.quantities import for_people
from app.records.kept import LETTERS, A, B
from app.records.kinds import Kind
from app.reports.chart import Chart
from app.web.models.spine import Number, find_number, in_unit_of

_DOSES = (
    ("Each demand", "ordered_demand", "actual_demand"),
    ("Continuous part", "ordered_continuous", "actual_continuous"),
    ("Loading dose", "ordered_loading", "actual_loading"),
)
_NO_CHARTS: Mapping[str, Chart] = {}


@dataclass(frozen=True, kw_only=True)
class DoseRow:
    """One dose: as ordered, and as it would be given."""

    label: str
    ordered: Number | None
    given: Number | None
    differs: bool


@dataclass(frozen=True, kw_only=True)
class Doses:
    """The doses of one clinician's readings, a sentence where they are not as ordered, and more figures."""

    by: str
    says: str
    rows: tuple[DoseRow, ...]
    figures: tuple[tuple[str, str], ...]
    chart: Chart | None

    @property
    def numbers(self) -> Iterator[Number]:
        """The numbers that need a place on the spine."""
        for row in self.rows:
            yield from (each for each in (row.ordered, row.given) if each is not None)


def doses_of(
    result: Mapping[str, Any], kind: Kind, charts: Mapping[str, Chart] = _NO_CHARTS
) -> tuple[Doses, ...]:
    """One for both where their readings come to the same, else one for each, with its picture if given.

    Where no settings are read there are none.
    """
    if not kind.reads_settings:
        return ()
    by_letter = {letter: (result["math"][letter], result["delivery"][letter]) for letter in LETTERS}
    unknown = _why_unknown(result["findings"])
    if by_letter[A] == by_letter[B]:
        return (_doses("", *by_letter[A], chart=charts.get(""), unknown=unknown),)
    return tuple(
        _doses(
            f"from the {part}'s readings",
            *by_letter[letter],
            chart=charts.get(letter, charts.get("")),
            unknown=unknown,
        )
        for letter, part in kind.parts_by_letter.items()
    )


def _why_unknown(findings: Iterable[Mapping[str, Any]]) -> str:
    """Why no dose can be compared, where none can."""
    if any(each["field"] == "syringe_size" and each["severity"] == "stop" for each in findings):
        return (
            "The syringe is not of the size that the device is set for: how far doses are off is not known."
        )
    return "Label and order do not name the same drug, or a strength is missing: no dose can be compared."


def _doses(
    by: str, math: Mapping[str, Any], delivery: Mapping[str, Any], *, chart: Chart | None, unknown: str
) -> Doses:
    rows = [_row(label, delivery[ordered], delivery[given]) for label, ordered, given in _DOSES]
    first_hour = math["order"]["first_hour_with_loading"]
    rows.append(_row("Most in the first hour", first_hour, delivery["actual_first_hour"]))
    rows.append(_row("Most in 4 h, limit applied", *_let_through(math, delivery)))
    return Doses(
        by=by,
        says=_says(delivery) if delivery["strength"] else unknown,
        rows=tuple(each for each in rows if each.given is not None),
        figures=tuple(_figures(math["device"])),
        chart=chart,
    )


def _row(label: str, ordered: Mapping[str, str] | None, given: Mapping[str, str] | None) -> DoseRow:
    before, now = _number(ordered), _number(given)
    return DoseRow(
        label=label,
        ordered=before,
        given=now if before is None or now is None else in_unit_of(before, now),
        differs=(ordered or {}).get("exact") != (given or {}).get("exact"),
    )


def _let_through(math: Mapping[str, Any], delivery: Mapping[str, Any]) -> tuple[Any, Any]:
    """What the limit lets through, as ordered and, with the syringe's real strength, as set."""
    ordered, counted = ((math[source]["full_use"] or {}).get("4 h") for source in ("order", "device"))
    if counted is None or delivery["strength"] is None:
        return ordered, None
    return ordered, at_strength(counted, delivery["strength"])


def _number(quantity: Mapping[str, str] | None) -> Number | None:
    return None if quantity is None else find_number(for_people(quantity))


def _says(delivery: Mapping[str, Any]) -> str:
    for words, ordered, given in (
        ("Each demand would give", delivery["ordered_demand"], delivery["actual_demand"]),
        ("The continuous part would give", delivery["ordered_continuous"], delivery["actual_continuous"]),
        ("The loading dose would be", delivery["ordered_loading"], delivery["actual_loading"]),
    ):
        row = _row(words, ordered, given)
        if row.ordered and row.given and row.differs:
            return f"{words} {row.given.text}, not {row.ordered.text}."
    return ""


def _figures(device: Mapping[str, Any]) -> Iterator[tuple[str, str]]:
    """The device's own figures, as it is set; what does not apply is left out."""
    yield from _shown("Volume of one demand", device["demand_volume"])
    if device["demands_per_hour"] is not None:
        yield "Most demands in the first hour, by the lockout alone", str(device["demands_per_hour"])
    if device["full_use"] is not None:
        yield from _shown("Most in 4 h, by the device's own count", device["full_use"]["4 h"])
    if device["limit_first_refuses_at"] is not None:
        refuses = for_people(device["limit_first_refuses_at"])
        yield (
            "Limit first refuses, pressed at every chance",
            (f"at {refuses}, after {device['demands_before_limit']} demands"),
        )
    yield from _shown("Longest wait, pressed at every chance", device["longest_wait"])
    yield from _shown("Syringe lasts, pressed at every chance", device["syringe_lasts_full_use"])


def _shown(label: str, quantity: Mapping[str, str] | None) -> Iterator[tuple[str, str]]:
    if quantity is not None:
        yield label, for_people(quantity)
