"""The account of an infusion so far: its entries, and what is known of its syringes."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any

from app.records.account_entries import FIRST_SYRINGE, AccountEntry


@dataclass(frozen=True, kw_only=True)
class Account:
    """The account so far; without `entries` as long as nobody has read what was on the device when it began.

    Where it was started without a check and none has read it since, `begun` is when, `place` where in the
    entries that stands, and `off` how the syringe that was on came off, should another one be found there;
    of one that has no account yet, `spilt` is what was since.
    `lots` are the lots of its syringes by their names, blank where a label has none, `drugs` what is in them.
    `on` is the one on the device; of those in `gone` it is written what became of what was left. `lowered`:
    since then it gives less than its settings in force say, and no two have read how much.
    """

    entries: tuple[AccountEntry, ...]
    begun: datetime | None
    lots: Mapping[str, str] = field(default_factory=dict)
    drugs: Mapping[str, str] = field(default_factory=dict)
    on: str = ""
    gone: frozenset[str] = frozenset()
    lowered: datetime | None = None
    spilt: tuple[AccountEntry, ...] = ()
    place: int = 0
    off: AccountEntry | None = None

    @property
    def is_closed(self) -> bool:
        """Whether nothing of it is in hand any more."""
        return any(each.data["kind"] == "end" for each in self.entries)

    @property
    def kept(self) -> frozenset[str]:
        """The syringes that are kept as evidence."""
        return frozenset(each.data["syringe"] for each in self.entries if each.data["kind"] == "kept")

    @property
    def next_name(self) -> str:
        """What the next syringe that comes in is called."""
        return str(int(FIRST_SYRINGE) + len(self.lots))

    def told_of(self, name: str) -> Mapping[str, Any]:
        """What the label of one of its syringes says: the name of it, drug and lot, and what it held."""
        issued = (each.data for each in self.entries if each.data["kind"] == "issued")
        its = next(each for each in issued if each["syringe"] == name)
        content = {key: each for key, each in its.items() if key not in ("kind", "syringe")}
        return {"name": name, "drug": self.drugs[name], "lot": self.lots[name], **content}

    def written(self) -> tuple[dict[str, Any], ...]:
        """Its entries as the contract writes them."""
        return tuple(each.written() for each in self.entries)
