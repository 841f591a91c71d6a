"""What was read as an account has it: what a label says, what is set, what a device and a barrel show."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from app.quantities import Dimension, Quantity, parse_quantity
from app.records import events
from app.records.evidence import Evidence, answers_of
from app.records.field_table import MODES_WITH_CONTINUOUS, MODES_WITH_DEMANDS
from app.records.kept import LETTERS, B, Entry, KeptComparison
from app.records.known import known_by
from app.records.reading import Answers
from app.records.sources import NONE, Source
from app.records.stated import stated
from app.records.taken_back import WASTED, is_nothing
from app.records.ward_events import DrugTakenBack

FIRST_SYRINGE = "1"
"""The syringes of an infusion are counted."""
UNREAD = "unread"
"""The part-used one that ran, where no two had read it: it has no number yet."""


@dataclass(frozen=True, kw_only=True)
class AccountEntry:
    """One entry of an account; `data` is as the contract writes it, its time apart.

    `check` and `round` are of the reading from which it comes, `position` of the log's entry that tells it.
    """

    at: datetime
    data: Mapping[str, Any]
    position: int
    check: str = ""
    round: int = 0

    def written(self) -> dict[str, Any]:
        """As the contract writes it."""
        return {**self.data, "at": self.at.isoformat(timespec="seconds")}


def entry_of(
    entry: Entry, at: datetime, kept: KeptComparison | None, data: Mapping[str, Any]
) -> AccountEntry:
    """One that an entry of the log tells, with what was read for it."""
    check, number = (kept.check, kept.round) if kept else ("", 0)
    return AccountEntry(at=at, data=data, position=entry.position, check=check, round=number)


@dataclass(frozen=True, kw_only=True)
class TotalsRead:
    """What one person read of totals and of the volume left; `data` is as the contract writes it."""

    at: datetime
    data: Mapping[str, Any]

    def written(self) -> dict[str, Any]:
        """As an entry of an account."""
        return {**self.data, "at": self.at.isoformat(timespec="seconds")}


def totals_read(answers: Answers) -> TotalsRead | None:
    """What a reading has of it; None: nothing that a device shows or a barrel tells."""
    read = answers.get(Source.TOTALS.value, {})
    data = _shown(read)
    if not data:
        return None
    return TotalsRead(at=datetime.fromisoformat(read["read_at"]), data={"kind": "read", **data})


def _shown(read: Mapping[str, str]) -> dict[str, Any]:
    """What a device shows and a barrel tells, as the contract writes it; counts alone are no totals."""
    given = {name: text for name, text in read.items() if text != NONE}
    totals: dict[str, Any] = {
        key: given[name]
        for name, key in (("total_amount", "amount"), ("total_volume", "volume"))
        if name in given
    }
    if totals:
        totals |= {name: int(given[name]) for name in ("presses", "doses") if name in given}
    data: dict[str, Any] = {"totals": totals} if totals else {}
    if "left" in given:
        data["left"] = given["left"]
    return data


def kept_entries(kept: Evidence, syringe: str) -> tuple[dict[str, Any], ...]:
    """The syringe is off the device for good, with what both showed; what is left is kept under its seal.

    Once the investigator gave it free, what is left of it is in hand as that of any other.
    """
    shown = _shown(answers_of(kept.said))
    removed = {"kind": "removed", **shown}
    left = shown.get("left", "")
    if kept.released or not (kept.said.seal and left) or is_nothing(left):
        return (removed,)
    return removed, {
        "kind": "kept",
        "syringe": syringe,
        "volume": left,
        "seal": kept.said.seal,
        "received": kept.received,
    }


def begins(
    case: Mapping[str, Any], answers: Mapping[str, Answers], *, name: str, is_again: bool = False
) -> tuple[Mapping[str, Any], ...]:
    """What was started without a check, as its first check has it; nothing where it is not read alike.

    Nobody read what ran out at priming: the set in use is taken to have been filled.
    """
    device, came = known_by(case).previous, comes_on(case, answers, name=name, is_again=is_again)
    if not came or not is_set(device):
        return ()
    holds = case["policy"].get("prime_volume")
    return (
        *came,
        *([{"kind": "primed", "volume": holds}] if holds else []),
        settings_entry(device),
        {"kind": "started"},
        *loading_entry(device),
    )


def comes_on(
    case: Mapping[str, Any], answers: Mapping[str, Answers], *, name: str, is_again: bool
) -> tuple[Mapping[str, Any], ...]:
    """A syringe that came onto the device before anybody had checked it there; one of its own comes again."""
    content = label_content(case, answers)
    if not is_again and content is None:
        return ()
    issued = () if is_again or content is None else ({"kind": "issued", "syringe": name, **content},)
    return (*issued, {"kind": "loaded", "syringe": name})


def label_content(case: Mapping[str, Any], answers: Mapping[str, Answers]) -> dict[str, str] | None:
    """What a syringe holds by its label, as both read it; None where they did not read all of it alike.

    One that was read to hold more than its barrel is as large as what it holds.
    """
    label = known_by(case).syringe
    volume = _volume_of(label, answers)
    size = label.get("syringe_size")
    strength = {name: label[name] for name in ("amount", "concentration") if name in label}
    if not volume or not size or not strength:
        return None
    return {"volume": volume, **strength, "size": volume if _is_more(volume, size) else size}


def part_used_content(content: Mapping[str, str], answers: Mapping[str, Answers]) -> dict[str, str]:
    """What a part-used syringe holds: as much as the second read on its scale, at its label's strength."""
    strength = content.get("concentration") or f"{content['amount']}/{content['volume']}"
    left = answers[B]["label"]["part_left"]
    return {"volume": left, "concentration": strength, "size": content["size"]}


def over_barrel(case: Mapping[str, Any], answers: Mapping[str, Answers]) -> tuple[str, str] | None:
    """What a label says is in the syringe, and the size of its barrel, where that is less."""
    label = known_by(case).syringe
    volume, size = _volume_of(label, answers), label.get("syringe_size")
    return (volume, size) if volume and size and _is_more(volume, size) else None


def _volume_of(label: Mapping[str, Any], answers: Mapping[str, Answers]) -> str:
    return label.get("volume") or _alike(answers, "label", "content_volume")


def _is_more(one: str, other: str) -> bool:
    first, second = (parse_quantity(each, Dimension.VOLUME) for each in (one, other))
    return isinstance(first, Quantity) and isinstance(second, Quantity) and first.value > second.value


def is_set(device: Mapping[str, Any]) -> bool:
    """Whether both read alike all that the account needs of the settings."""
    mode = device.get("mode", "")
    needed = ["limit", *(("demand_dose", "lockout") if mode in MODES_WITH_DEMANDS else ())]
    return bool(mode) and all(name in device for name in needed)


def settings_entry(device: Mapping[str, Any]) -> dict[str, Any]:
    """The settings that were read on the device, as an entry of the account."""
    strength = (
        {"concentration": f"{device['amount']}/{device['volume']}"}
        if "amount" in device
        else {name: device[name] for name in ("concentration",) if name in device}
    )
    mode = device["mode"]
    demands = ("demand_dose", "lockout") if mode in MODES_WITH_DEMANDS else ()
    continuous = _rate(device) if mode in MODES_WITH_CONTINUOUS else {}
    return {
        "kind": "settings",
        **strength,
        "mode": mode,
        "limit": device.get("limit"),
        **{name: device[name] for name in demands},
        **continuous,
    }


def loading_entry(device: Mapping[str, Any]) -> tuple[dict[str, Any], ...]:
    """The loading dose that a device gives when it is started, where two read one on it."""
    amount = device.get("loading_dose") or ""
    # None of it may be written as a zero.
    number = amount.partition(" ")[0].strip("0.")
    return ({"kind": "bolus", "amount": amount, "loading": True},) if number else ()


def lowered_entry(before: Iterable[Mapping[str, Any]], device: Mapping[str, Any]) -> dict[str, Any]:
    """What a device was set to since its dose was lowered, as two read it first; `before` are the entries.

    Nothing where they did not read all of it, or read another strength than was in force.
    """
    settings = [each for each in before if each["kind"] == "settings"]
    if not settings or not is_set(device):
        return {}
    told, strength = settings_entry(device), settings[-1].get("concentration")
    return told if told.get("concentration") == strength else {}


def _rate(device: Mapping[str, Any]) -> dict[str, str]:
    """None is zero, in the unit of the device's doses."""
    in_volumes = str(device.get("demand_dose", "")).endswith("mL")
    return {"continuous_rate": device.get("continuous_rate") or ("0 mL/h" if in_volumes else "0 mg/h")}


def given_away(event: DrugTakenBack, name: str) -> dict[str, Any]:
    """What was wasted or given back, as an entry of the account."""
    seen = {"witnessed": not event.not_witnessed} if event.way == WASTED else {"received": event.received}
    return {"kind": event.way, "syringe": name, "volume": event.exact, **seen}


def spilt_since(begun: datetime, spilt: Iterable[Entry]) -> tuple[AccountEntry, ...]:
    """What was spilt of a syringe before two had read which it was, as its account will have it."""
    found = [
        entry_of(each, max(stated(event.stated_at, each.at), begun), None, given_away(event, FIRST_SYRINGE))
        for each in spilt
        if isinstance(event := each.event, DrugTakenBack) and not is_nothing(event.exact)
    ]
    return tuple(sorted(found, key=lambda each: each.at))


def _alike(answers: Mapping[str, Answers], source: str, name: str) -> str:
    one, other = (answers[letter].get(source, {}).get(name, "") for letter in LETTERS)
    return one if one == other else ""


def begun_at(entry: Entry) -> datetime:
    """When an infusion was started without a check, as it was stated."""
    assert isinstance(entry.event, events.StartedWithoutCheck)  # noqa: S101  # it is kept as one
    return stated(entry.event.started_at, entry.at)


def counting(told: Iterable[Entry]) -> frozenset[int]:
    """Of what is written of drug taken back, what counts: of what was written anew, the last.

    What is gone of a syringe that the account names is written once.
    """
    last: dict[tuple[str, int, str, int], int] = {}
    for each in told:
        if isinstance(each.event, DrugTakenBack):
            event = each.event
            once = each.position if event.label_round is None else 0
            last[each.check, event.round, event.held_in, once] = each.position
    return frozenset(last.values())
