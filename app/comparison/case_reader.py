"""JSON, or the objects that it stands for -> a case, or the first thing that is wrong with it."""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import date

from app.comparison.case import Case, CaseError, Entry, Policy
from app.comparison.chart import Bearing, bearing
from app.comparison.documents import (
    WHOLE,
    Node,
    Quantities,
    RefusedError,
    choice,
    find_list,
    find_moment_at,
    get,
    load,
    node,
    refuse,
    text,
)
from app.comparison.fields import COMPARED_SOURCES, RISKS, ZERO_OR_MORE_VOLUME
from app.comparison.moments import Moment, completed_years
from app.comparison.policy_reader import ALWAYS, NEVER, library, policy
from app.comparison.readings import NO_READINGS, Readings, Word, folded
from app.comparison.source_reader import (
    DEVICE,
    ORDER,
    ORDER_OF_RECORD,
    PREVIOUS,
    Demands,
    chart,
    label,
    person,
    settings,
    with_masses,
)
from app.records.formats import CASE
from app.records.sources import Source

_CASE_KEYS = frozenset(
    {"format", "policy", "library", "patient", "order_of_record", "previous", "reads", "entries"}
)
_READ_KEYS = frozenset({"is", "by"})
_CLINICIANS = 2

# Each source with its key in an entry, in the order in which they are read.
_KEYS: Mapping[Source, str] = {
    Source.WRISTBAND: "patient",
    Source.CHART: "chart",
    Source.ORDER: "order",
    Source.LABEL: "label",
    Source.DEVICE: "device",
}
# These must be there; of the others every value may be missing.
_STRUCTURE = frozenset({Source.ORDER, Source.LABEL, Source.DEVICE})


def read_case(given: object) -> Case | CaseError:
    """The case that a JSON text (str or bytes), or the object that it stands for, describes."""
    try:
        return _case(load(given) if isinstance(given, str | bytes) else given)
    except RefusedError as refused:
        return refused.error


def read_without_library(case: Mapping[str, object]) -> Case | CaseError:
    """The same of a compared case, where what the library lists has no say in what is asked of it."""
    return read_case({**case, "library": None})


@dataclass(frozen=True, kw_only=True, slots=True)
class _Reads:
    """The sources that are read, and which of them by one of the two alone."""

    sources: frozenset[Source]
    by_one: frozenset[Source]


def _case(given: object) -> Case:
    """Reads the parts in the order in which CONTRACT.md names them."""
    case = node(given, WHOLE, _CASE_KEYS)
    quantities = Quantities()
    if text(get(case, WHOLE, "format"), "format") != CASE.newest:
        refuse("format", "unknown-format", f"Only {CASE.newest} can be read.")
    rules = policy(case, quantities)
    drug_library = library(case, quantities)
    patient = person(case, WHOLE, quantities)
    order_of_record = _optional_settings(case, "order_of_record", quantities, ORDER_OF_RECORD)
    previous = _optional_settings(case, "previous", quantities, PREVIOUS)
    reads = _reads(case)
    first, second = _two_entries(get(case, WHOLE, "entries"))
    reader = _EntryReader(reads, rules, quantities)
    one = reader.read(first, "entries[0]", None)
    other = reader.read(second, "entries[1]", one)
    entries = _shared(one, other, reads), _shared(other, one, reads)
    bears = _bearing(entries, rules) if Source.CHART in reads.sources else None
    monitors = _required_monitors(rules, bears)
    return Case(
        policy=rules,
        library=drug_library,
        patient=patient,
        order_of_record=order_of_record,
        previous=previous,
        reads=reads.sources,
        entries=_completed(entries, order_of_record, monitors),
        bearing=bears,
        required_monitors=monitors,
    )


def _optional_settings(case: Node, key: str, quantities: Quantities, demands: Demands) -> Readings:
    given = case.get(key)
    return NO_READINGS if given is None else settings(given, key, quantities, demands)


def _reads(case: Node) -> _Reads:
    """What is read: everything by both, unless the case says otherwise."""
    given = find_list(case, WHOLE, "reads")
    if given is None:
        return _Reads(sources=frozenset(_KEYS), by_one=frozenset())
    sources: set[Source] = set()
    by_one: set[Source] = set()
    for each, path in given:
        name, name_path = each, path
        if isinstance(each, dict):
            row = node(each, path, _READ_KEYS)
            name, name_path = get(row, path, "is"), f"{path}.is"
        source = Source(choice(name, name_path, tuple(_KEYS)))
        if source in sources:
            refuse(name_path, "unknown-value", "Each source can stand here once.")
        sources.add(source)
        if isinstance(each, dict):
            choice(get(each, path, "by"), f"{path}.by", ("one",))
            by_one.add(source)
    return _Reads(sources=frozenset(sources), by_one=frozenset(by_one))


def _two_entries(given: object) -> tuple[object, object]:
    if not isinstance(given, list):
        refuse("entries", "wrong-type", "A list is expected here.")
    if len(given) != _CLINICIANS:
        refuse("entries", "wrong-count", "Exactly two clinicians read.")
    return given[0], given[1]


class _EntryReader:
    """Reads the two entries of a case."""

    def __init__(self, reads: _Reads, rules: Policy, quantities: Quantities) -> None:
        self._reads = reads
        self._rules = rules
        self._quantities = quantities
        self._read: dict[Source, tuple[object, Readings]] = {}

    def read(self, given: object, path: str, other: Entry | None) -> Entry:
        """One entry, A's or beside A's the other; what one alone reads is in one of them."""
        taken = frozenset[Source]() if other is None else self._reads.by_one & other.sources.keys()
        asked = [source for source in _KEYS if source in self._reads.sources - taken]
        keys = {"clinician", "read_at", "primed_volume", *(_KEYS[source] for source in asked)}
        entry = node(given, path, frozenset(keys))
        clinician = text(get(entry, path, "clinician"), f"{path}.clinician")
        if other is not None and folded(clinician) == folded(other.clinician):
            refuse(f"{path}.clinician", "same-clinician", "Two different clinicians must read.")
        read_at = _read_at(entry, path)
        sources = {
            source: self._source(entry, path, source)
            for source in asked
            if not (other is None and source in self._reads.by_one and _is_absent(entry, source))
        }
        primed_volume = self._quantities.find(entry, path, "primed_volume", ZERO_OR_MORE_VOLUME)
        return Entry(clinician=clinician, read_at=read_at, sources=sources, primed_volume=primed_volume)

    def _source(self, entry: Node, path: str, source: Source) -> Readings:
        """What one of the two read; what the other read to the letter is taken over."""
        given = entry.get(_KEYS[source])
        if source in self._read and self._read[source][0] == given:
            return self._read[source][1]
        readings = self._read_source(entry, path, source)
        self._read[source] = given, readings
        return readings

    def _read_source(self, entry: Node, path: str, source: Source) -> Readings:
        match source:
            case Source.WRISTBAND:
                return person(entry, path, self._quantities)
            case Source.CHART:
                patient_needed = self._rules.chart_patient_required
                return chart(entry, path, self._quantities, patient_needed=patient_needed)
            case Source.LABEL:
                return label(get(entry, path, "label"), f"{path}.label", self._quantities)
            case _:
                key, demands = _KEYS[source], ORDER if source is Source.ORDER else DEVICE
                return settings(get(entry, path, key), f"{path}.{key}", self._quantities, demands)


def _is_absent(entry: Node, source: Source) -> bool:
    key = _KEYS[source]
    return key not in entry or (source not in _STRUCTURE and entry[key] is None)


def _read_at(entry: Node, path: str) -> Moment | None:
    found = find_moment_at(entry, path, "read_at")
    if found is None:
        return None
    if found[1].instant is None:
        refuse(f"{path}.read_at", "bad-time", "Write a time as YYYY-MM-DDThh:mm+hh:mm.")
    return found[1]


def _shared(entry: Entry, other: Entry, reads: _Reads) -> Entry:
    """An entry with what the other clinician alone read: it counts as read alike by both."""
    shared = {source: other.sources[source] for source in reads.by_one - entry.sources.keys()}
    return replace(entry, sources={**entry.sources, **shared})


def _bearing(entries: tuple[Entry, Entry], rules: Policy) -> Bearing:
    first, second = (entry.source(Source.CHART) for entry in entries)
    is_old = rules.caution_from_age is not None and _is_that_old(entries, rules.caution_from_age)
    return bearing(first, second, is_old=is_old, light_below=rules.caution_below_weight)


def _is_that_old(entries: tuple[Entry, Entry], years: int) -> bool:
    """Whether both wristbands give one birth date, of a person who is so old at either reading."""
    born = [entry.sources.get(Source.WRISTBAND, NO_READINGS).find("patient.birth_date") for entry in entries]
    match born:
        case [Word(value=date() as one), Word(value=other)] if one == other:
            return any(
                completed_years(one, entry.read_at.day) >= years
                for entry in entries
                if entry.read_at is not None
            )
        case _:
            return False


def _required_monitors(rules: Policy, bears: Bearing | None) -> tuple[str, ...]:
    """What a device's monitors must be read of: switches, and alarms that the site requires."""
    needs_it = bears is not None and bool(bears.oxygen or bears.reasons)
    capnography = rules.capnography_required == ALWAYS or (rules.capnography_required != NEVER and needs_it)
    switches = {
        "monitor.capnography": capnography,
        "monitor.pulse_oximetry": rules.pulse_oximetry_required,
    }
    alarms = {f"monitor.{alarm}": bounds.required for alarm, bounds in rules.alarm_bounds.items()}
    return tuple(monitor for monitor, is_required in {**switches, **alarms}.items() if is_required)


def _completed(
    entries: tuple[Entry, Entry], order_of_record: Readings, monitors: tuple[str, ...]
) -> tuple[Entry, Entry]:
    """The entries with what only both together tell: which monitors are needed, which risks nobody read."""
    charts = [entry.sources.get(Source.CHART, NO_READINGS).by_field for entry in entries]
    unread = frozenset(risk for risk in RISKS if not any(risk in chart for chart in charts))
    needed = {Source.CHART: unread, Source.DEVICE: frozenset(monitors)}
    # Where no order is read, the one of record stands in its place.
    unread_sources = {**dict.fromkeys(COMPARED_SOURCES, NO_READINGS), Source.ORDER: order_of_record}
    first, second = (_complete(entry, unread_sources, needed) for entry in entries)
    return first, second


def _complete(
    entry: Entry, unread_sources: Mapping[Source, Readings], needed: Mapping[Source, frozenset[str]]
) -> Entry:
    sources = {**unread_sources, **entry.sources}
    sources[Source.DEVICE] = with_masses(
        sources[Source.DEVICE], sources[Source.LABEL].find_number("concentration")
    )
    for source in needed.keys() & entry.sources.keys():
        sources[source] = _lacking(sources[source], needed[source])
    return replace(entry, sources=sources)


def _lacking(readings: Readings, needed: frozenset[str]) -> Readings:
    missing = needed - readings.by_field.keys()
    return replace(readings, missing=readings.missing | missing) if missing else readings
