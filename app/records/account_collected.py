"""What an account is collected in: its entries, each where its time says, and the syringes they tell of."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any

from app.records.account_entries import FIRST_SYRINGE, AccountEntry, begun_at, entry_of, totals_read
from app.records.account_order import place_of
from app.records.check_read import CheckRead
from app.records.events import StartedWithoutCheck
from app.records.kept import B, Entry, KeptComparison
from app.records.kinds import Totals, kind_named
from app.records.known import known_by
from app.records.taken_back import EMPTIES
from app.records.ward_events import DrugTakenBack

# The two of a check confirm that each of them stands so.
_AT_ZERO: Mapping[str, object] = {"amount": "0 mg", "volume": "0 mL", "presses": 0, "doses": 0}


@dataclass(kw_only=True)
class Collected:
    """`on` is the syringe on the device, with what its label says; `names` are those that came in.

    They are named by the check and the reading of their label. `came` is when each came in, `off` came off.
    `order` is by what each of the entries stands where it does.
    """

    eras: Mapping[int, int]
    entries: list[AccountEntry] = field(default_factory=list)
    order: list[tuple[int, datetime]] = field(default_factory=list)
    on: str = ""
    label: Mapping[str, Any] = field(default_factory=dict)
    names: dict[tuple[str, int], str] = field(default_factory=dict)
    lots: dict[str, str] = field(default_factory=dict)
    drugs: dict[str, str] = field(default_factory=dict)
    labels: dict[str, Mapping[str, Any]] = field(default_factory=dict)
    gone: set[str] = field(default_factory=set)
    came: dict[str, datetime] = field(default_factory=dict)
    off: dict[str, datetime] = field(default_factory=dict)
    is_running: bool = False

    @property
    def next_name(self) -> str:
        """What the next syringe that comes in is called."""
        return str(int(FIRST_SYRINGE) + len(self.lots))

    def is_put_on(self, kept: KeptComparison, name: str, at: datetime) -> None:
        """A syringe is on from here, with the label that both read; it has come in with that, or before."""
        self.names[kept.check, kept.round] = self.on = name
        self.label = known_by(kept.opened["case"]).syringe
        if name not in self.lots:
            self.named(name, self.label, at)

    def named(self, name: str, label: Mapping[str, Any], at: datetime) -> None:
        """What the label of a syringe says it is that came in."""
        self.lots[name], self.drugs[name] = label.get("lot") or "", label.get("drug", "")
        self.labels[name], self.came[name] = label, at

    def goes_on(self, label: Mapping[str, Any]) -> bool:
        """Whether the syringe on the device is the one that was read: its label tells nothing else."""
        return bool(self.on) and label == self.label

    def goes(self, event: DrugTakenBack, name: str) -> None:
        """What became of the rest of one is written."""
        if event.held_in in EMPTIES:
            self.gone.add(name)

    def takes_off(self, entry: Entry) -> None:
        """What is on comes off, and nobody reads what is left of it."""
        if self.on:
            self.add(entry, entry.at, kind="removed")
            self.off[self.on] = entry.at
            self.on = ""

    def comes_off(self, entry: Entry, kept: KeptComparison | None) -> None:
        """The syringe that is on is taken off, with what the second of a check read of it."""
        read = totals_read(kept.opened["answers"][B]) if kept is not None else None
        if not self.on or read is None:
            self.takes_off(entry)
            return
        self.insert(entry, read.at, kept, **{**read.data, "kind": "removed"})
        self.off[self.on] = min(read.at, entry.at)
        self.on, self.is_running = "", False

    def begins_totals(self, kind: str, entry: Entry, kept: KeptComparison) -> None:
        """Another device, or totals that were cleared: the old ones as the second read them, then zero.

        Of a syringe that came off they were read with it, now or before.
        """
        totals = kind_named(kind).totals
        if totals is Totals.GO_ON:
            return
        read = totals_read(kept.opened["answers"][B])
        if read is not None and self.on:
            self.insert(entry, read.at, kept, **read.data)
        shown = read.data.get("totals") if read is not None else None
        old = shown or ({} if self.on else self.totals_standing())
        told = {"totals": old} if old else {}
        self.add(entry, entry.at, kept, kind=totals.value, **told, after=_AT_ZERO)

    def totals_standing(self) -> Mapping[str, Any]:
        """What a device that stands showed when it was read last; nothing where it ran since."""
        told = (each.data for each in reversed(self.entries))
        last = next((each for each in told if "totals" in each or each["kind"] in ("started", "removed")), {})
        return dict(last.get("totals", {}))

    def since(self, begun: Entry) -> tuple[int, datetime]:
        """Where in the entries a start stands that nobody had checked, or would, and since when it runs."""
        starts = (
            (place, each.at)
            for place, each in enumerate(self.entries)
            if each.position == begun.position and each.data["kind"] == "started"
        )
        at = begun_at(begun)
        return next(starts, (place_of((self.eras[begun.position], at), self.order), at))

    def not_before(self, entry: Entry, at: datetime, turn: str) -> datetime:
        """What is said to have been before it last ran, or stood, was when it was written."""
        turned = max((each.at for each in self.entries if each.data["kind"] == turn), default=at)
        return at if at >= turned else entry.at

    def add(self, entry: Entry, at: datetime, kept: KeptComparison | None = None, **data: object) -> None:
        """As the last of them."""
        self.put(entry_of(entry, at, kept, data), place=len(self.entries))

    def insert(self, entry: Entry, at: datetime, kept: KeptComparison | None = None, **data: object) -> None:
        """Where its time says: what people state of time is told later than it happened."""
        made = entry_of(entry, min(at, entry.at), kept, data)
        self.put(made, place=place_of(self.key(made), self.order))

    def put(self, made: AccountEntry, *, place: int) -> None:
        """At this place."""
        self.entries.insert(place, made)
        self.order.insert(place, self.key(made))

    def key(self, made: AccountEntry) -> tuple[int, datetime]:
        """By what it stands where it does."""
        return self.eras[made.position], made.at

    def put_in(self, place: int, entries: Iterable[AccountEntry]) -> None:
        """At a place of their own."""
        for at, each in enumerate(entries, place):
            self.put(each, place=at)


def read_before(
    begun: Entry, read: Mapping[str, CheckRead]
) -> tuple[KeptComparison | None, Mapping[str, Any]]:
    """What was read of totals and of what is left in the check that was given up for a start."""
    given_up = read.get(begun.event.instead_of) if isinstance(begun.event, StartedWithoutCheck) else None
    kept = given_up.last if given_up else None
    totals = totals_read(kept.opened["answers"][B]) if kept else None
    return (kept, totals.data) if totals else (None, {})
