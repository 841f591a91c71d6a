"""What an infusion knows before a check of it begins: what the engine is told beside the two readings.

Values: nothing of it reaches the two of a check before both have handed in.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from app.records.field_table import TABLE
from app.records.kept_orders import OrderOnRecord
from app.records.kinds import Given, Kind

_FROM_ONE = frozenset(each.finding for each in TABLE if each.from_one)
_WRISTBAND = ("identifier", "birth_date")


@dataclass(frozen=True, kw_only=True)
class Runs:
    """Another infusion, which runs: where, and whose it is by the check that put its settings in force.

    `here`: at the bed of the check at hand. `patient` is an identifier, blank where no check of it has one.
    `infusion` is which it is, blank where a comparison tells of it, which keeps no more than where.
    """

    infusion: str = ""
    unit: str
    unit_name: str
    bed: str
    here: bool
    patient: str


@dataclass(frozen=True, kw_only=True)
class Known:
    """The infusion's patient, the settings in force, the order they were checked against, the syringe in use.

    In the words of the engine's contract: `patient` has `identifier` and `birth_date`, `previous` and
    `order_of_record` are SETTINGS, `syringe` is a LABEL, its lot among it, of which the engine is not told.
    What is not known is not there. `orders` are those that other systems sent for the patient whom both read,
    and are to be carried out. `running` is what runs beside this infusion, on any unit. `account` are
    the entries of its account; where it was started without a check and has none yet, `begun` is when, and
    `spilt` the entries that come to what it begins with. `settled` are the places of those that nobody saw
    go, or took, and that a third person has closed.
    `on` is the one that is on the device, by its label; `place` and `off` are as the account has them of what
    was started without a check, `next_name` what the next syringe is called. `lowered` is since when it gives
    less than is in force, for safety, where no two have read how much.
    `issued` are the syringes that were issued for it, and those of other infusions that are out; `syringes`
    are those of its account that are in hand and not on the device, by `name`, and what the label says.
    """

    patient: Mapping[str, str] = field(default_factory=dict)
    previous: Mapping[str, Any] = field(default_factory=dict)
    order_of_record: Mapping[str, Any] = field(default_factory=dict)
    syringe: Mapping[str, Any] = field(default_factory=dict)
    running: tuple[Runs, ...] = ()
    orders: tuple[OrderOnRecord, ...] = ()
    account: tuple[Mapping[str, Any], ...] = ()
    issued: tuple[Mapping[str, Any], ...] = ()
    begun: str = ""
    spilt: tuple[Mapping[str, Any], ...] = ()
    settled: tuple[int, ...] = ()
    lowered: str = ""
    syringes: tuple[Mapping[str, Any], ...] = ()
    on: Mapping[str, Any] = field(default_factory=dict)
    place: int = 0
    off: Mapping[str, Any] = field(default_factory=dict)
    next_name: str = ""

    def given_to(self, kind: Kind) -> "Known":
        """The part of it that the judges of this kind of check are given."""
        has_account = Given.ACCOUNT in kind.given
        return Known(
            **{each.value: getattr(self, each.value) for each in kind.given},
            begun=self.begun if has_account else "",
            spilt=self.spilt if has_account else (),
            settled=self.settled if has_account else (),
            lowered=self.lowered if has_account else "",
            syringes=self.syringes if has_account else (),
            on=self.on if has_account else {},
            place=self.place if has_account else 0,
            off=self.off if has_account else {},
            next_name=self.next_name if has_account else "",
        )


_NO_ACCOUNT: Mapping[str, Any] = {
    **dict.fromkeys(("entries", "spilt", "settled", "in_hand"), ()),
    **dict.fromkeys(("begun", "lowered", "next"), ""),
    "on": {},
    "off": {},
    "place": 0,
}

NOTHING_KNOWN = Known()
"""Of an infusion's first check."""


def known_by(case: Mapping[str, Any]) -> Known:
    """What the case of the check that put settings in force knows: whatever its two read alike."""
    return Known(
        patient=_alike(case, "patient"),
        previous=_alike(case, "device"),
        order_of_record=_order_of_record(case),
        syringe=_alike(case, "label"),
    )


def known_in(case: Mapping[str, Any], told: Mapping[str, Any]) -> Known:
    """What a case and its comparison themselves say was known beside the two readings."""
    patient = case.get("patient") or {}
    account = told.get("account") or _NO_ACCOUNT
    return Known(
        patient={key: patient[key] for key in _WRISTBAND if key in patient},
        previous=case.get("previous", {}),
        order_of_record=case.get("order_of_record", {}),
        syringe=told.get("syringe", {}),
        running=tuple(_kept(each, case) for each in told.get("running", ())),
        # What the one that was compared orders stands in the case.
        orders=tuple(OrderOnRecord(**each) for each in told.get("orders", ())),
        account=tuple(account["entries"]),
        issued=tuple(told.get("issued", ())),
        begun=account["begun"],
        spilt=tuple(account["spilt"]),
        settled=tuple(account["settled"]),
        lowered=account["lowered"],
        syringes=tuple(account["in_hand"]),
        on=account["on"],
        place=account["place"],
        off=account["off"],
        next_name=account["next"],
    )


def _kept(each: Mapping[str, Any], case: Mapping[str, Any]) -> Runs:
    """What ran as it is kept: whether it was the same patient's, and nothing of another's."""
    read = _patient_read(case)
    place = {name: each[name] for name in ("unit", "unit_name", "bed", "here")}
    return Runs(**place, patient=read if each["same"] else "")


def _order_of_record(case: Mapping[str, Any]) -> Mapping[str, Any]:
    """What both read of the order; where it is not read, the one of record stays."""
    if all("order" in entry for entry in case["entries"]):
        return _without_patient(_alike(case, "order"))
    return dict(case.get("order_of_record", {}))


def _patient_read(case: Mapping[str, Any]) -> str:
    """The identifier on the wristband, as the first of those who read it has it."""
    read = (entry["patient"]["identifier"] for entry in case["entries"] if "patient" in entry)
    return str(next(read))


def _without_patient(order: Mapping[str, Any]) -> dict[str, Any]:
    """Whose order it is stands for itself, in `patient`."""
    return {key: value for key, value in order.items() if key != "patient"}


def _alike(case: Mapping[str, Any], source: str) -> dict[str, Any]:
    """What both gave of one source. They may have typed one value in two ways; the first nurse's stands.

    What one suffices for counts as read by both; so does a source that one alone reads. What nobody reads is
    not known.
    """
    given = [entry[source] for entry in case["entries"] if source in entry]
    if not given:
        return {}
    first, second = given[0], given[-1]
    from_one = {key: text for key, text in {**second, **first}.items() if key in _FROM_ONE}
    return {**_given_by_both(first, second), **from_one}


def _given_by_both(first: Mapping[str, Any], second: Mapping[str, Any]) -> dict[str, Any]:
    both: dict[str, Any] = {}
    for key in first:
        if key not in second:
            continue
        one, other = first[key], second[key]
        parts = isinstance(one, Mapping) and isinstance(other, Mapping)
        both[key] = _given_by_both(one, other) if parts else one
    return both
