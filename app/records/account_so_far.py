"""The account of an infusion so far: its entries, and what is known of its syringes."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any

from app.records.account_entries import AccountEntry


@dataclass(frozen=True, kw_only=True)
class Account:
    """The account so far; without `entries` as long as nobody has read what was on the device when it began.

    Of one that was started without a check and has none yet, `begun` is when, and `spilt` what was since.
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

    @property
    def is_closed(self) -> bool:
        """Whether nothing of it is in hand any more."""
        return any(each.data["kind"] == "end" for each in self.entries)

    @property
    def kept(self) -> frozenset[str]:
        """The syringes that are kept as evidence."""
        return frozenset(each.data["syringe"] for each in self.entries if each.data["kind"] == "kept")

    def written(self) -> tuple[dict[str, Any], ...]:
        """Its entries as the contract writes them."""
        return tuple(each.written() for each in self.entries)
