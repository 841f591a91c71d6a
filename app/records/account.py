"""The account of an infusion as the engine is given it: one entry for each reading that says where drug is.

A fold over the log's entries of an infusion and what its checks read. No figure is computed here, and each
volume comes from exactly one reading: what they come to, `app.accounting` says.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from datetime import datetime

from app.records import events
from app.records.account_collected import Collected, read_before
from app.records.account_entries import (
    UNREAD,
    AccountEntry,
    begins,
    begun_at,
    comes_on,
    counting,
    entry_of,
    given_away,
    kept_entries,
    label_content,
    loading_entry,
    lowered_entry,
    part_used_content,
    settings_entry,
    spilt_since,
    totals_read,
)
from app.records.account_order import eras_of, on_after, place_of
from app.records.account_so_far import Account
from app.records.bolus_amount import bolus_amount
from app.records.bolus_events import StaffBolusGiven
from app.records.change_events import DoseLowered
from app.records.check_read import CheckRead
from app.records.emergency_events import EvidenceKept
from app.records.ending_events import InfusionEnded
from app.records.evidence import Evidence, evidence_in
from app.records.infusion import misplaced_stops
from app.records.issued import put_on_as
from app.records.kept import B, Entry, KeptComparison
from app.records.kinds import Syringe, kind_named
from app.records.known import known_by
from app.records.stated import stated
from app.records.taken_back import IN_SYRINGE, SPILT, is_nothing
from app.records.ward_events import DrugTakenBack, LinePaused, LineResumed


def fold_account(log: Iterable[Entry], read: Mapping[str, CheckRead]) -> Account:
    """The account of one infusion.

    `log` are the entries of one infusion, its checks' among them, in the log's order; `read` is what each of
    its checks read, by the check's id.
    """
    told = tuple(log)
    total = _SoFar(
        read=read,
        misplaced=misplaced_stops(told),
        counts=counting(told),
        eras=eras_of(told),
        evidence=evidence_in(told),
        issued=put_on_as(told),
    )
    for entry in told:
        # What was written at the wrong bed tells nothing of this one.
        if str(entry.position) not in total.misplaced:
            total.hears(entry)
    begun = begun_at(total.begun) if total.begun is not None else None
    return Account(
        entries=tuple(total.entries),
        begun=begun,
        lots=total.lots,
        drugs=total.drugs,
        on=total.on,
        gone=frozenset(total.gone),
        lowered=total.lowered.at if total.lowered else None,
        spilt=spilt_since(begun, total.spilt) if begun else (),
        place=total.since(total.begun)[0] if total.begun is not None else 0,
        off=total.off_unseen(),
    )


@dataclass(kw_only=True)
class _SoFar(Collected):
    """What has added up so far; only this module changes it.

    `issued` are the syringes that were issued before, by the check and the reading of their label. `begun` is
    the start that no check had cleared, `spilt` what was since, before anybody had read of which syringe.
    """

    read: Mapping[str, CheckRead]
    misplaced: frozenset[str]
    counts: frozenset[int]
    evidence: Mapping[int, Evidence]
    issued: Mapping[tuple[str, int], Entry]
    begun: Entry | None = None
    lowered: Entry | None = None
    spilt: list[Entry] = field(default_factory=list)

    def hears(self, entry: Entry) -> None:
        """One more entry of the log."""
        match entry.event:
            case events.StartedWithoutCheck():
                self._starts_unchecked(entry)
            case events.Started() as event:
                self._starts(entry, event)
            case events.CheckDone() | events.LedToCheck() as event:
                self._is_done(entry, event)
            case events.DeviceStopped() as event:
                self._stands(entry, stated(event.stopped_at, entry.at))
            case LinePaused():
                self._stands(entry, entry.at)
            case LineResumed() if self.on and not self.is_running:
                self._runs(entry, entry.at)
            case DrugTakenBack() as event:
                self._gives_back(entry, event)
            case _:
                self._hears_in_a_hurry(entry)

    def _hears_in_a_hurry(self, entry: Entry) -> None:
        """What one person alone writes down, after an emergency or of a bolus."""
        match entry.event:
            case StaffBolusGiven() as event if self.lots:
                self._bolus(entry, event)
            case DoseLowered() if self.is_running:
                self.lowered = self.lowered or entry
            case EvidenceKept() if self.on and entry.position in self.evidence:
                self._keeps(entry)
            case _:
                pass

    def _starts_unchecked(self, entry: Entry) -> None:
        """Whatever is on runs; which syringe that is, the first check that reads it says.

        Of several starts another one is on since the last before which the old one was read.
        """
        if self.begun is None or (self.on and read_before(entry, self.read)[0] is not None):
            self.begun = entry
        if self.on and not self.is_running:
            self.insert(entry, self.not_before(entry, begun_at(entry), "paused"), kind="started")
            self.is_running = True

    def _starts(self, entry: Entry, event: events.Started) -> None:
        """A check that was cleared put settings in force, and mostly a syringe on."""
        read = self.read[entry.check]
        if read.last is None:
            return
        if kind_named(event.check_kind).syringe is Syringe.STAYS:
            if self.on:
                self._is_found(entry, read.last)
        else:
            self.begun = None
        if not self._changes_syringe(event.check_kind, entry, read.last):
            return
        if read.primed is not None:
            self.add(entry, entry.at, read.primed, kind="primed", volume=read.primed.opened["volume"])
        device = known_by(read.last.opened["case"]).previous
        self._lowers(read.last)
        self.add(entry, entry.at, read.last, **settings_entry(device))
        self._runs(entry, entry.at)
        if kind_named(event.check_kind).gives_loading:
            for data in loading_entry(device):
                self.add(entry, entry.at, read.last, **data)

    def _is_done(self, entry: Entry, event: events.CheckDone | events.LedToCheck) -> None:
        match event:
            case InfusionEnded():
                self._ends(entry)
            case events.CheckDone():
                self._is_read(entry, event)
            case _ if event.round:
                self._reads(entry, self.read[entry.check].until(event.round))
            case _:
                pass

    def _is_read(self, entry: Entry, event: events.CheckDone) -> None:
        """A check of what runs read its totals; where no check had cleared the start, the account begins."""
        last = self.read[entry.check].last
        self._reads(entry, last, lowers=kind_named(event.check_kind).puts_in_force)

    def _reads(self, entry: Entry, last: KeptComparison | None, *, lowers: bool = False) -> None:
        """What is on was read by two, whatever came of their check."""
        if last is None:
            return
        self._is_found(entry, last)
        if lowers:
            self._lowers(last)
        totals = totals_read(last.opened["answers"][B])
        if totals is not None and self.on:
            self.insert(entry, totals.at, last, **totals.data)

    def _ends(self, entry: Entry) -> None:
        """Both have closed it: the syringe comes off with the final totals, and nothing is in hand."""
        if not self.names:
            return
        self.comes_off(entry, self._last_of(entry))
        self.add(entry, max(each.at for each in self.entries), kind="end")

    def _is_found(self, entry: Entry, kept: KeptComparison) -> None:
        """What both read on the device, where nobody had checked it, or another syringe was put on."""
        if self.begun is not None and not self.on:
            self._begins(self.begun, kept)
        elif kept.unseen and kept.unseen != self.on:
            self._comes_unseen(entry, kept)
        if self.on:
            self.begun = None

    def _begins(self, begun: Entry, kept: KeptComparison) -> None:
        """What was started without a check begins with what both read on it, at the time that was stated."""
        name, (place, at) = kept.unseen or self.next_name, self.since(begun)
        told = begins(kept.opened["case"], kept.opened["answers"], name=name, is_again=name in self.lots)
        if not told:
            return
        self.put_in(place, (entry_of(begun, at, kept, each) for each in told))
        self.is_put_on(kept, name, at)
        self.is_running = True
        spilt, self.spilt = self.spilt, []
        for each in spilt:
            self.hears(each)

    def _comes_unseen(self, entry: Entry, kept: KeptComparison) -> None:
        """The one before comes off as of the start that nobody had checked; else when it was found gone."""
        name, answers = kept.unseen, kept.opened["answers"]
        came = comes_on(kept.opened["case"], answers, name=name, is_again=name in self.lots)
        begun, off = self.begun, self.off_unseen()
        if not came:
            return
        if begun is not None and off is not None:
            place, at = self.since(begun)
            self.put_in(place, (off, *(entry_of(begun, at, kept, each) for each in came)))
        else:
            read = totals_read(answers[B])
            at = read.at if read else entry.at
            runs = ({"kind": "started"},) if self.is_running else ()
            for data in ({"kind": "removed"}, *came, *runs):
                self.insert(entry, at, kept, **data)
        self.off[self.on] = at
        self.is_put_on(kept, name, at)

    def off_unseen(self) -> AccountEntry | None:
        """How what was on came off before the start that nobody had checked, should another one be on.

        With what the second read of it in the check that was given up for that start.
        """
        if self.begun is None or not self.on:
            return None
        kept, data = read_before(self.begun, self.read)
        return entry_of(self.begun, self.since(self.begun)[1], kept, {**data, "kind": "removed"})

    def _changes_syringe(self, kind: str, entry: Entry, kept: KeptComparison) -> bool:
        """The syringe that is on stays, or one is put on, and new totals may begin.

        False where nothing is known to be on.
        """
        if kind_named(kind).syringe is Syringe.STAYS:
            if self.on:
                self.begins_totals(kind, entry, kept)
            return bool(self.on)
        if kind_named(kind).puts_one_on:
            self.comes_off(entry, kept)
            if self.lots:
                self.begins_totals(kind, entry, kept)
        elif self.goes_on(known_by(kept.opened["case"]).syringe):
            return True
        else:
            self.takes_off(entry)
        return self._puts_on(entry, kept, kept.at)

    def _lowers(self, kept: KeptComparison) -> None:
        """Lowered for safety, the device gave less from then on: what two read of it first."""
        lowered, self.lowered = self.lowered, None
        if lowered is None:
            return
        told = lowered_entry((each.data for each in self.entries), known_by(kept.opened["case"]).previous)
        if told:
            self.insert(lowered, lowered.at, kept, **told)

    def _last_of(self, entry: Entry) -> KeptComparison | None:
        """What the check read last of which an entry tells; None outside of any."""
        return self.read[entry.check].last if entry.check else None

    def _puts_on(self, entry: Entry, kept: KeptComparison, at: datetime) -> bool:
        """A syringe comes in with what both read on its label, and is put on; False where that is not all.

        A part-used one has come in before.
        """
        if not (self._is_again(kept) or self._issues(entry, kept, at)):
            return False
        name = self.names[kept.check, kept.round]
        # Its label may have been read before the old one was taken off.
        loaded_at = min(max(at, self.entries[-1].at), entry.at)
        self.add(entry, loaded_at, kept, kind="loaded", syringe=name)
        self.on, self.label = name, known_by(kept.opened["case"]).syringe
        return True

    def _is_again(self, kept: KeptComparison) -> bool:
        """Whether what both read is a syringe of this account that is loaded again."""
        if kept.loaded_again not in self.lots:
            return False
        self.names[kept.check, kept.round] = kept.loaded_again
        return True

    def _issues(self, entry: Entry, kept: KeptComparison, at: datetime) -> bool:
        content = label_content(kept.opened["case"], kept.opened["answers"])
        if content is None:
            return False
        if kept.loaded_again == UNREAD:
            # It ran, and nobody knows what it gave: it comes in with what both saw in it.
            content = part_used_content(content, kept.opened["answers"])
        name = self.next_name
        self.names[kept.check, kept.round] = name
        # It came in when it was issued, where somebody wrote that down; what it holds both have read.
        first = self.issued.get((kept.check, kept.round))
        came, came_at = (entry, min(at, entry.at)) if first is None else (first, first.at)
        self.named(name, known_by(kept.opened["case"]).syringe, at)
        self.insert(came, came_at, kept, kind="issued", syringe=name, **content)
        return True

    def _gives_back(self, entry: Entry, event: DrugTakenBack) -> None:
        """What was taken back of one that was replaced; told anew it is of the same, whatever is on now."""
        if event.label_round is None:
            self._is_given_away(entry, event)
            return
        read = self.read[entry.check].until(event.label_round)
        if read is None:
            return
        place = (entry.check, read.round)
        if place not in self.names:
            if self._is_again(read):
                self._goes_before_it_ran(entry, event, read)
            elif not event.is_told_apart and self.goes_on(known_by(read.opened["case"]).syringe):
                self.names[place] = self.on
                self.takes_off(entry)
            elif not self._issues(entry, read, read.at):
                return
        name = self.names[place]
        self.goes(event, name)
        if entry.position in self.counts and not is_nothing(event.exact):
            at = max(stated(event.stated_at, entry.at), read.at)
            self.insert(entry, at, read, **given_away(event, name))

    def _goes_before_it_ran(self, entry: Entry, event: DrugTakenBack, read: KeptComparison) -> None:
        """The one that was on, which was to be put on again: it came off with what was read of it."""
        if event.is_told_apart and self.on == read.loaded_again:
            self.comes_off(entry, read)

    def _is_given_away(self, entry: Entry, event: DrugTakenBack) -> None:
        """What was left of a syringe, or what was spilt of it, by its name in the account.

        It stands where it is said to have happened: what was read of the syringe since is read without it.
        """
        if event.syringe not in self.lots:
            # Of what runs unchecked the account begins later; a syringe that went before was in none.
            if self.begun and event.held_in == SPILT:
                self.spilt.append(entry)
            return
        if event.held_in == IN_SYRINGE and self.on == event.syringe:
            self.comes_off(entry, self._last_of(entry))
        self.goes(event, event.syringe)
        if not is_nothing(event.exact):
            since = self.off if event.held_in == IN_SYRINGE else self.came
            earliest = since.get(event.syringe, self.came[event.syringe])
            at = max(stated(event.stated_at, entry.at), earliest)
            self.insert(entry, at, **given_away(event, event.syringe))

    def _bolus(self, entry: Entry, event: StaffBolusGiven) -> None:
        """As much as the order in force said, where it was given as is stated, if a syringe was on there."""
        last = self.read[event.in_force].last
        if last is None:
            return
        known, at = known_by(last.opened["case"]), stated(event.stated_at, entry.at)
        place = place_of((self.eras[entry.position], at), self.order)
        name = on_after(each.data for each in self.entries[:place])
        order, label = known.order_of_record.get("staff_bolus"), self.labels.get(name, {})
        amount = bolus_amount(order, known.previous, label) if name else ""
        if amount:
            given = {"kind": "bolus", "amount": amount, "loading": False}
            self.put(entry_of(entry, at, None, given), place=place)

    def _keeps(self, entry: Entry) -> None:
        """The syringe comes off when it was first said to be kept, with all that was said of it."""
        for data in kept_entries(self.evidence[entry.position], self.on):
            self.add(entry, entry.at, **data)
        self.off[self.on] = entry.at
        self.on, self.is_running = "", False

    def _runs(self, entry: Entry, at: datetime) -> None:
        self.add(entry, at, kind="started")
        self.is_running = True

    def _stands(self, entry: Entry, at: datetime) -> None:
        if self.is_running:
            self.insert(entry, self.not_before(entry, at, "started"), kind="paused")
            self.is_running = False
