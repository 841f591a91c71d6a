"""Readings that do not agree: between the nurses, with the record, and between the sources."""

from collections.abc import Mapping
from fractions import Fraction

from app.comparison import consequences
from app.comparison.case import Case, Entry
from app.comparison.fields import COMPARED_SOURCES, FIELDS, Compared
from app.comparison.findings import Finding, Origin
from app.comparison.readings import Amount, DoseAsVolume, Lookup, Nothing, Reading, read_alike, same
from app.comparison.shown_readings import shown_readings
from app.comparison.slips import Difference, find_slip
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
from app.records.sources import Source

_CONTENT = ("amount", "volume")
_DIRECTLY_COMPARED = (Source.ORDER, Source.LABEL, Source.DEVICE)


def agreement_findings(case: Case, strength: Fraction | None) -> list[Finding]:
    """At most one of the first eight codes for each field, or that it is written in different ways.

    `strength` is how many times the dose set is given, as A read label and device.
    """
    found: dict[str, Finding] = {}
    judges = {field.name: _FieldJudge(case, field, strength) for field in _fields_not_read_alike(case)}
    for name, judge in judges.items():
        # What differs in the strength is not said again of what it is made of.
        if name not in _CONTENT or "concentration" not in found:
            disagreement = judge.find_disagreement()
            if disagreement is not None:
                found[name] = disagreement
    content = None
    if found.keys().isdisjoint({"concentration", *_CONTENT}):
        content = _volume_differs(case, [judges[name] for name in _CONTENT if name in judges])
    notations = [
        judge.find_notations()
        for name, judge in judges.items()
        if name not in found and not (name == "concentration" and content is not None)
    ]
    return [each for each in (*found.values(), content, *notations) if each is not None]


def _fields_not_read_alike(case: Case) -> list[Compared]:
    """The fields of which there is anything to say: not the same text in all places where it is read."""
    first, second = case.entries
    missing = frozenset[str]().union(
        *(entry.source(source).missing for entry in case.entries for source in COMPARED_SOURCES)
    )
    read = {
        source: (first.source(source).by_field, second.source(source).by_field) for source in COMPARED_SOURCES
    }
    beside = (case.order_of_record.by_field, case.patient.by_field)
    # Few fields differ in where they are read, so the places are put together once.
    places = {
        sources: [*beside, *(each for source in sources for each in read[source])]
        for sources in {field.sources for field in FIELDS}
    }
    return [
        field for field in FIELDS if field.name in missing or not _is_one(places[field.sources], field.name)
    ]


def _is_one(places: list[Mapping[str, Reading]], field: str) -> bool:
    one: Reading | None = None
    for by_field in places:
        reading = by_field.get(field)
        # Looking for the very same one only saves time: it is equal to itself.
        if reading is None or reading is one:  # pragma: no mutate
            continue
        if one is not None and reading != one:
            return False
        one = reading
    return True


def _volume_differs(case: Case, judges: "list[_FieldJudge]") -> Finding | None:
    """Another content than ordered, of one strength."""
    parts = [judge.contents() for judge in judges]
    if all(len(contents) <= 1 for contents in parts):
        return None
    told = listed([way for contents in parts if len(contents) > 1 for way in contents.values()])
    says = (
        f"Order, label and device do not give one content of the syringe: {told}. "
        "The strength is the same, and so is every dose; only how long the syringe lasts is not."
    )
    return Finding(
        code="volume-differs",
        severity=case.policy.severity_of("volume-differs"),
        field="volume",
        readings=shown_readings(case, "volume"),
        says=says,
    )


class _FieldJudge:
    """One field, as both clinicians read it from every source that can hold it."""

    def __init__(self, case: Case, field: Compared, strength: Fraction | None) -> None:
        self._case = case
        self._field = field
        self._strength = strength
        first, second = case.entries
        self._pairs = {
            source: (first.source(source).find(field.name), second.source(source).find(field.name))
            for source in field.sources
        }

    def find_disagreement(self) -> Finding | None:
        """The first that applies, in the order of the contract's table."""
        if self._field.is_risk:
            return self._find_missing()
        alike = self._find_missing() or self._find_difference()
        if alike is not None:
            return alike
        if self._field.one_rule_for_all:
            return self._find_other_patient()
        return self._find_other_record() or self._find_sources()

    def contents(self) -> dict[Fraction, str]:
        """The different values that the sources give, each with where the first of them stands."""
        found: dict[Fraction, str] = {}
        for source in _DIRECTLY_COMPARED:
            reading = self._either(source)
            if isinstance(reading, Amount):
                found.setdefault(reading.value, f"{typed(reading)} {place(source)}")
        return found

    def find_notations(self) -> Finding | None:
        """A quantity that is the same wherever it was typed, and was typed in different ways."""
        readings = [
            reading
            for source, pair in self._pairs.items()
            if source in self._case.reads
            for reading in pair
            if reading is not None
        ]
        masses = {typed(each): each.value for each in readings if isinstance(each, Amount)}
        volumes = {typed(each): each.volume for each in readings if isinstance(each, DoseAsVolume)}
        ways = [
            way
            for values in (masses, volumes)
            if len(values) > 1 and len(set(values.values())) == 1
            for way in values
        ]
        if not ways:
            return None
        written = f"{capitalised(self._field.words)} is written in different ways: {listed(ways)}."
        return self._finding("notation-differs", sentences(written, "The value is the same."), None)

    def _find_missing(self) -> Finding | None:
        lacking = {
            source: [
                nurse(clinician)
                for clinician, entry in self._case.by_clinician().items()
                if self._field.name in entry.source(source).missing
            ]
            for source in self._field.sources
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
            if p is not None and q is not None and not read_alike(p, q):
                return self._difference_between_clinicians(source, p, q)
        return None

    def _difference_between_clinicians(self, source: Source, p: Reading, q: Reading) -> Finding:
        first, second = (entry.source(source).find for entry in self._case.entries)
        difference = Difference(
            field=self._field.name,
            p=p,
            q=q,
            beside_p=first,
            beside_q=second,
            is_between_clinicians=True,
        )
        slip, factor = self._slip(difference), difference.ratio
        larger = None if factor is None else max(factor, 1 / factor)
        says = sentences(
            f"The two nurses read {self._field.words} {place(source)} differently: "
            f"{typed(p)} and {typed(q)}.",
            None if larger is None else f"One is {times(larger)} the other.",
            "Make sure who the patient is before anything else." if self._field.one_rule_for_all else None,
            consistent_with(slip),
        )
        return self._finding("readings-differ", says, Origin.READING, slip=slip, factor=larger)

    def _find_other_patient(self) -> Finding | None:
        """A source that does not name the infusion's patient, or where that is not known, the wristband's."""
        known = self._case.patient.find(self._field.name)
        expected = known or self._either(Source.WRISTBAND)
        if expected is None:
            return None
        for source, pair in self._pairs.items():
            others = [each for each in pair if each is not None and not isinstance(each, Nothing)]
            other = next((each for each in others if not same(expected, each)), None)
            if other is None:
                continue
            whose = "this infusion was set up for" if known else "on the wristband it is"
            says = (
                f"{capitalised(self._field.words)} {place(source)} is {typed(other)}, and {whose} "
                f"{typed(expected)}. Make sure who the patient is before anything else."
            )
            origin = {Source.ORDER: Origin.ORDER, Source.LABEL: Origin.SUPPLY}.get(source)
            return self._finding("patient-differs", says, origin)
        return None

    def _find_other_record(self) -> Finding | None:
        """The order as read is not the order that the record holds."""
        p, q = self._case.order_of_record.find(self._field.name), self._either(Source.ORDER)
        if p is None or q is None or same(p, q):
            return None
        difference = self._difference(p, q, self._case.order_of_record.find, self._beside(Source.ORDER))
        slip, factor = self._slip(difference), difference.ratio
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
        if expected is None or self._field.name in _CONTENT:
            return None
        if label is not None and not same(expected, label):
            return self._label_differs(expected, label)
        # A volume whose mass is not known is neither the ordered mass nor another.
        is_unknown = isinstance(device, DoseAsVolume) and device.value is None
        if device is None or is_unknown or same(expected, device):
            return None
        if self._field.name == "syringe_size":
            return self._syringe_size_differs(expected, device)
        if self._field.name == "carrier.rate":
            return self._carrier_rate_differs(expected, device)
        return self._device_differs(expected, device, expected_in)

    def _label_differs(self, p: Reading, q: Reading) -> Finding:
        difference = self._difference(p, q, self._beside(Source.ORDER), self._beside(Source.LABEL))
        slip = self._slip(difference)
        says = sentences(
            f"Label and order do not agree on {self._field.words}: {amounts_to(p)} is ordered, "
            f"{amounts_to(q)} is on the label.",
            consequences.of_label(self._field.name, self._strength),
            consistent_with(slip),
        )
        return self._finding("label-differs", says, Origin.SUPPLY, slip=slip, factor=self._factor(difference))

    def _device_differs(self, p: Reading, q: Reading, expected_in: Source) -> Finding:
        difference = self._difference(p, q, self._beside(expected_in), self._beside(Source.DEVICE))
        slip = self._slip(difference)
        on_label = expected_in is Source.LABEL
        says = sentences(
            f"{'Label' if on_label else 'Order'} and device do not agree on {self._field.words}: "
            f"{amounts_to(p)} is {'on the label' if on_label else 'ordered'}, {amounts_to(q)} is set.",
            consequences.of_device(self._field.name, p, q, self._strength),
            consistent_with(slip),
        )
        return self._finding(
            "device-differs", says, Origin.PROGRAMMING, slip=slip, factor=self._factor(difference)
        )

    def _carrier_rate_differs(self, p: Reading, q: Reading) -> Finding:
        says = (
            f"Order and device do not agree on {self._field.words}: {typed(p)} is ordered, {typed(q)} is "
            "set. It is no dose, but the drug would reach the patient sooner or later than planned."
        )
        return self._finding("carrier-rate-differs", says, Origin.PROGRAMMING)

    def _syringe_size_differs(self, barrel: Reading, size_set: Reading) -> Finding:
        is_wider = consequences.is_less(size_set, barrel)
        says = (
            f"The syringe is {typed(barrel)}, and the device is set for {typed(size_set)}. Each dose would "
            f"be {'more' if is_wider else 'less'} than the device shows; by how much is not known."
        )
        return self._finding("syringe-size-differs", says, Origin.PROGRAMMING)

    def _either(self, source: Source) -> Reading | None:
        """A's reading of a source, or B's where A has none."""
        first, second = self._pairs.get(source, (None, None))
        return second if first is None else first

    def _beside(self, source: Source) -> Lookup:
        """All readings of a source by the clinician whose reading of this field counts."""
        first, second = self._case.entries
        reader: Entry = second if self._pairs[source][0] is None else first
        return reader.source(source).find

    def _difference(self, p: Reading, q: Reading, beside_p: Lookup, beside_q: Lookup) -> Difference:
        return Difference(
            field=self._field.name,
            p=p,
            q=q,
            beside_p=beside_p,
            beside_q=beside_q,
            is_between_clinicians=False,
        )

    def _factor(self, difference: Difference) -> Fraction | None:
        """For the concentration the one that matters: how many times the dose set is given."""
        return self._strength if self._field.name == "concentration" else difference.ratio

    def _slip(self, difference: Difference) -> str | None:
        bearing = self._case.bearing
        return find_slip(
            difference,
            previous=self._case.previous,
            weight=None if bearing is None else bearing.weight,
            one_two_three_on_top=self._case.policy.one_two_three_on_top,
        )

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
            severity=self._case.policy.severity_of(code),
            field=self._field.name,
            readings=shown_readings(self._case, self._field.name),
            says=says,
            origin=origin,
            slip=slip,
            factor=factor,
        )
