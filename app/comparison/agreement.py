"""Readings that do not agree: between the nurses, with the record, and between order, label and device."""

from collections.abc import Mapping
from fractions import Fraction

from app.comparison import consequences
from app.comparison.case import Case
from app.comparison.fields import COMPARED_SOURCES, FIELDS, places_of
from app.comparison.findings import SEVERITIES, Finding, Origin
from app.comparison.readings import Amount, Lookup, Nothing, Reading, same
from app.comparison.shown_readings import shown_readings
from app.comparison.slips import Difference, find_slip, quotient
from app.comparison.wording import (
    amounts_to,
    by_whom,
    capitalised,
    consistent_with,
    listed,
    nurse,
    place,
    sentences,
    times,
    typed,
)
from app.records.sources import Field, Source

_PARTS_OF_CONCENTRATION = frozenset({"amount", "volume"})


def agreement_findings(case: Case, strength: Fraction | None) -> list[Finding]:
    """At most one of the first five codes for each field, or that it is written in different ways.

    `strength` is how many times the dose set is given, as A read label and device.
    """
    found: list[Finding] = []
    settled: frozenset[str] = frozenset()
    for field in _fields_not_read_alike(case):
        judge = _FieldJudge(case, field, strength)
        disagreement = None if field.finding in settled else judge.find_disagreement()
        if disagreement is not None and field.finding == "concentration":
            settled = _PARTS_OF_CONCENTRATION
        finding = disagreement or judge.find_notations()
        if finding is not None:
            found.append(finding)
    return found


def _fields_not_read_alike(case: Case) -> list[Field]:
    """The fields of which there is anything to say: not the same text in all places where it is read."""
    by_source = {
        source: [entry.source(source).by_field for entry in case.entries] for source in COMPARED_SOURCES
    }
    recorded = case.order_of_record.by_field
    missing = frozenset[str]().union(
        *(entry.source(source).missing for entry in case.entries for source in COMPARED_SOURCES)
    )
    return [
        field
        for field in FIELDS
        if field.finding in missing
        or not _is_one(
            [recorded, *(read for source in places_of(field) for read in by_source[source])], field.finding
        )
    ]


def _is_one(sources: list[Mapping[str, Reading]], field: str) -> bool:
    readings = [source[field] for source in sources if field in source]
    return all(
        # Looking for the very same one only saves time: it is equal to itself.
        reading is readings[0]  # pragma: no mutate
        or reading == readings[0]
        for reading in readings
    )


class _FieldJudge:
    """One field, as both clinicians read it from every source that can hold it."""

    def __init__(self, case: Case, field: Field, strength: Fraction | None) -> None:
        self._case = case
        self._field = field
        self._strength = strength
        first, second = case.entries
        self._pairs = {
            source: (first.source(source).find(field.finding), second.source(source).find(field.finding))
            for source in places_of(field)
        }

    def find_disagreement(self) -> Finding | None:
        """The first that applies, in the order of the contract's table."""
        return (
            self._find_missing()
            or self._find_difference()
            or self._find_other_record()
            or self._find_sources()
        )

    def find_notations(self) -> Finding | None:
        """A quantity that is the same wherever it was typed, and was typed in different ways."""
        readings = [
            reading for pair in self._pairs.values() for reading in pair if isinstance(reading, Amount)
        ]
        ways = list(dict.fromkeys(typed(reading) for reading in readings))
        if len(ways) <= 1 or len({reading.value for reading in readings}) > 1:
            return None
        written = f"{capitalised(self._field.words)} is written in different ways: {listed(ways)}."
        says = sentences(written, "The value is the same.")
        return self._finding("notation-differs", says, None)

    def _find_missing(self) -> Finding | None:
        lacking = {
            source: [
                nurse(clinician)
                for clinician, entry in self._case.by_clinician().items()
                if self._field.finding in entry.source(source).missing
            ]
            for source in self._pairs
        }
        places = [f"{place(source)} by {by_whom(nurses)}" for source, nurses in lacking.items() if nurses]
        if not places:
            return None
        says = (
            f"{capitalised(self._field.words)} was not read {listed(places)}. It must be read before "
            "anything can be said about it."
        )
        return self._finding("reading-missing", says, Origin.READING)

    def _find_difference(self) -> Finding | None:
        """The first source that A and B read differently."""
        for source, (p, q) in self._pairs.items():
            if p is not None and q is not None and not same(p, q):
                return self._difference_between_clinicians(source, p, q)
        return None

    def _difference_between_clinicians(self, source: Source, p: Reading, q: Reading) -> Finding:
        first, second = (entry.source(source).find for entry in self._case.entries)
        slip = self._slip(p, q, first, second, is_between_clinicians=True)
        factor = quotient(p, q)
        larger = None if factor is None else max(factor, 1 / factor)
        says = sentences(
            f"The two nurses read {self._field.words} {place(source)} differently: "
            f"{typed(p)} and {typed(q)}.",
            None if larger is None else f"One is {times(larger)} the other.",
            consistent_with(slip),
        )
        return self._finding("readings-differ", says, Origin.READING, slip=slip, factor=larger)

    def _find_other_record(self) -> Finding | None:
        """The order as read is not the order that the record holds."""
        p, q = self._case.order_of_record.find(self._field.finding), self._either(Source.ORDER)
        if p is None or q is None or same(p, q):
            return None
        slip = self._slip(p, q, self._case.order_of_record.find, self._beside(Source.ORDER))
        factor = quotient(p, q)
        says = sentences(
            f"For {self._field.words} the record holds another order than the one that was read: "
            f"{typed(p)} in the record, {typed(q)} as read.",
            None if factor is None else f"That is {times(factor)} what the record holds.",
            consistent_with(slip),
        )
        return self._finding("order-differs-from-record", says, Origin.ORDER, slip=slip, factor=factor)

    def _find_sources(self) -> Finding | None:
        """Label or device is not the order; where the order does not say, the device is not the label."""
        order, label = self._either(Source.ORDER), self._either(Source.LABEL)
        device = self._either(Source.DEVICE)
        label_stands_in = self._field.label_stands_in and (order is None or isinstance(order, Nothing))
        expected, expected_in = (label, Source.LABEL) if label_stands_in else (order, Source.ORDER)
        if expected is None:
            return None
        if label is not None and not same(expected, label):
            return self._label_differs(expected, label)
        if device is not None and not same(expected, device):
            return self._device_differs(expected, device, expected_in)
        return None

    def _label_differs(self, p: Reading, q: Reading) -> Finding:
        slip = self._slip(p, q, self._beside(Source.ORDER), self._beside(Source.LABEL))
        says = sentences(
            f"Label and order do not agree on {self._field.words}: {amounts_to(p)} is ordered, "
            f"{amounts_to(q)} is on the label.",
            consequences.of_label(self._field.finding, p, q, self._strength),
            consistent_with(slip),
        )
        return self._finding("label-differs", says, Origin.SUPPLY, slip=slip, factor=self._factor(p, q))

    def _device_differs(self, p: Reading, q: Reading, expected_in: Source) -> Finding:
        slip = self._slip(p, q, self._beside(expected_in), self._beside(Source.DEVICE))
        on_label = expected_in is Source.LABEL
        says = sentences(
            f"{'Label' if on_label else 'Order'} and device do not agree on {self._field.words}: "
            f"{amounts_to(p)} is {'on the label' if on_label else 'ordered'}, {amounts_to(q)} is set.",
            consequences.of_device(self._field.finding, p, q, self._strength),
            consistent_with(slip),
        )
        return self._finding("device-differs", says, Origin.PROGRAMMING, slip=slip, factor=self._factor(p, q))

    def _either(self, source: Source) -> Reading | None:
        """A's reading of a source, or B's where A has none."""
        first, second = self._pairs.get(source, (None, None))
        return second if first is None else first

    def _beside(self, source: Source) -> Lookup:
        """All readings of a source, A's or B's where A has none."""
        first, second = (entry.source(source) for entry in self._case.entries)
        return lambda field: first.find(field) or second.find(field)

    def _factor(self, p: Reading, q: Reading) -> Fraction | None:
        """For the concentration the one that matters: how many times the dose set is given."""
        return self._strength if self._field.finding == "concentration" else quotient(p, q)

    def _slip(
        self,
        p: Reading,
        q: Reading,
        beside_p: Lookup,
        beside_q: Lookup,
        *,
        is_between_clinicians: bool = False,
    ) -> str | None:
        difference = Difference(
            field=self._field.finding,
            p=p,
            q=q,
            beside_p=beside_p,
            beside_q=beside_q,
            is_between_clinicians=is_between_clinicians,
        )
        return find_slip(difference, self._case.previous, self._case.patient.weight)

    def _finding(
        self,
        code: str,
        says: str,
        origin: Origin | None,
        *,
        slip: str | None = None,
        factor: Fraction | None = None,
    ) -> Finding:
        return Finding(
            code=code,
            severity=SEVERITIES[code],
            field=self._field.finding,
            readings=shown_readings(self._case, self._field.finding),
            says=says,
            origin=origin,
            slip=slip,
            factor=factor,
        )
