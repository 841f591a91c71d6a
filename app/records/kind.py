"""What a kind of check is: whatever differs from kind to kind is asked of its row, and stands in no code.

The rows stand in `app/records/kinds.py`.
"""

from dataclasses import dataclass
from enum import StrEnum

from app.records.kept import FIRST, LETTERS
from app.records.reading import Scope, fields_in, sources_in
from app.records.sources import JudgedBy, Source
from app.records.steps import ANOTHER_DEVICE, REPEATED
from app.records.taken_back import IN_LINE, IN_SYRINGE


class Opens(StrEnum):
    """On what a check is opened."""

    BED = "a bed"
    RUNNING = "an infusion that runs"
    TAKEN = "an infusion that runs, and was taken from another unit"
    STANDING = "an infusion that was started, and does not run"
    BEGUN = "an infusion that runs, is paused or was stopped"


class End(StrEnum):
    """What its end means: cleared to start, with a last look, or done with the second signature."""

    CLEARED = "cleared"
    DONE = "done"


class Syringe(StrEnum):
    """Which syringe is on after a check."""

    STAYS = "the one that was on before"
    BY_LABEL = "the one before, unless its label says otherwise"
    IS_ANOTHER = "another one"
    AS_SAID = "another one, or one that was on before: both say which"


class Totals(StrEnum):
    """What becomes of the device's totals: each but the first is what the account calls it."""

    GO_ON = ""
    OF_ANOTHER_DEVICE = "device"
    ARE_CLEARED = "cleared"


class Given(StrEnum):
    """What the judges are given of the infusion, once both have handed in."""

    PREVIOUS = "previous"
    ORDER_OF_RECORD = "order_of_record"
    PATIENT = "patient"
    SYRINGE = "syringe"
    RUNNING = "running"
    ORDERS = "orders"
    ACCOUNT = "account"
    ISSUED = "issued"


@dataclass(frozen=True, kw_only=True)
class Kind:
    """One kind of check.

    `words` is what it is called, `parts` what the first and the second are called. `judges` are named in
    `app/judging`. A kind without `plans` has no safety steps; `entries` are what the steps of each of them
    write down beside a tick. `put_right` are the sources that may be put right while it goes on, and
    `syringe` says which one is on after it, `totals` whether new ones begin. `leads_to` is the kind that puts
    right what this one found, where it puts nothing right itself and no narrower one does so. `about` says
    when to open it. `meaning` is what each says by signing, and `sections` are the parts of its record that
    not every kind has. `each_reads` is there where the two do not read the same; `reads` is all of it.
    `puts_in_force`: its end puts in force what its two read. `responsible` is the slot of whoever answers for
    the infusion once it is done; None where that stays as it was. `ends`: its end is the infusion's.
    `also_reads` are the fields that no other kind asks for.
    """

    name: str
    words: str
    parts: tuple[str, str]
    opens: Opens
    reads: Scope
    given: frozenset[Given]
    judges: tuple[JudgedBy, ...]
    plans: tuple[str, ...]
    entries: tuple[str, ...]
    end: End
    put_right: tuple[Source, ...]
    syringe: Syringe
    ends: bool
    leads_to: str
    about: str
    meaning: str
    sections: tuple[str, ...]
    totals: Totals = Totals.GO_ON
    agrees: str = "Order, label and device agree"
    each_reads: tuple[Scope, Scope] | None = None
    puts_in_force: bool = True
    responsible: int | None = None
    also_reads: tuple[str, ...] = ()

    @property
    def is_held_beside(self) -> bool:
        """Whether what is read is held beside what is in force, as two signed it."""
        return JudgedBy.IN_FORCE in self.judges

    def reads_of(self, slot: int) -> Scope:
        """What the holder of a slot reads, alone."""
        return self.each_reads[slot - FIRST] if self.each_reads else self.reads

    def is_asked_of(self, slot: int, source: Source, field: str) -> bool:
        """Whether a field of a source is in the part of the holder of a slot."""
        return any(each.name == field for each in fields_in(self.reads_of(slot), source))

    @property
    def read_by_one(self) -> Scope:
        """What one of the two alone reads; read again, it is read whole and by both."""
        if self.each_reads is None:
            return ()
        first, second = (set(sources_in(each)) for each in self.each_reads)
        return tuple(each for each in self.reads if Source(each[0]) in first ^ second)

    def read_again(self, scope: Scope) -> Scope:
        """A scope as both read it again: of what one of the two alone read, all of it."""
        whole = dict(self.read_by_one)
        return tuple((name, whole.get(name, fields)) for name, fields in scope)

    @property
    def is_running(self) -> bool:
        """Whether the infusion runs while it is checked."""
        return self.opens in {Opens.RUNNING, Opens.TAKEN}

    @property
    def changes(self) -> bool:
        """Whether something of an infusion that was started is changed, and it is cleared to start again."""
        return self.opens is Opens.BEGUN and self.end is End.CLEARED

    @property
    def takes_apart(self) -> bool:
        """Whether the syringe comes off the device that ran, to be put on again or not."""
        return self.puts_one_on or self.totals is Totals.OF_ANOTHER_DEVICE

    @property
    def puts_one_on(self) -> bool:
        """Whether what is on comes off, and one that both have read is put on."""
        return self.syringe in {Syringe.IS_ANOTHER, Syringe.AS_SAID}

    @property
    def may_be_on_again(self) -> bool:
        """Whether the syringe that comes off may be the one that is put on."""
        return self.syringe is Syringe.AS_SAID

    @property
    def gives_loading(self) -> bool:
        """Whether a loading dose is given at its start: where an order was read that asks for it."""
        return self.end is End.CLEARED and Source.ORDER in sources_in(self.reads)

    @property
    def reads_settings(self) -> bool:
        """Whether what is set is read, so that there are doses to compute."""
        return Source.DEVICE in sources_in(self.reads)

    @property
    def portions(self) -> tuple[str, ...]:
        """Where the drug is that is taken back; at the end what a line holds was told when it was primed."""
        return (IN_SYRINGE,) if self.ends else (IN_SYRINGE, IN_LINE)

    @property
    def facts(self) -> tuple[str, ...]:
        """What of the steps is asked in this kind alone."""
        device = (ANOTHER_DEVICE,) if self.totals is Totals.OF_ANOTHER_DEVICE else ()
        return (*device, REPEATED) if self.may_be_on_again else device

    def part(self, slot: int) -> str:
        """What the holder of a slot is called."""
        return self.parts[slot - FIRST]

    @property
    def parts_by_letter(self) -> dict[str, str]:
        """The two by the letters under which their readings stand."""
        return dict(zip(LETTERS, self.parts, strict=True))
