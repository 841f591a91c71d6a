"""The site's own rules, as far as the workflow needs them, from the published policy."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import timedelta
from typing import Any

from app.records.canonical import canonical, digest

# Of a policy that was published before there was a word on it.
PASSES_ON_HOURS = 12
# The same; common practice, no source.
SHIFT_CHANGES = ("07:00", "19:00")
# The same; common practice, no source.
PAUSE_MINUTES = 30
# How long a syringe is used from when it is put on. The same; common practice, no source.
SYRINGE_IN_USE_HOURS = 24
# When a check is due of what one nurse lowered for safety. The same; common practice, no source.
LOWERED_CHECK_MINUTES = 60
# When two have read what was taken from another unit. The same; common practice, no source.
TRANSFER_CHECK_MINUTES = 60
# For how long a colleague may cover a break. The same; common practice, no source.
BREAK_MINUTES = 30
# After how long capped a line is not gone on with. The same; common practice, no source.
AWAY_MINUTES = 240
# For how long an export that was asked for can be collected. The same; common practice, no source.
EXPORTS_KEPT_HOURS = 24
# How many boluses given by staff in an hour call the pain service. The same; common practice, no source.
STAFF_BOLUSES_CALL = 2
# When a blind check is due once what was checked on paper was typed in. The same; common practice, no source.
PAPER_CHECK_MINUTES = 120
# Who may witness what becomes of a drug. The same; common practice, no source.
WITNESSES = ("nurse", "charge-nurse", "pharmacist")
# For how long an order from another system counts, and how many a sender may send in a minute. The same;
# common practice, no source.
ORDER_HOURS, ORDERS_IN_A_MINUTE, ORDERS_AHEAD_MINUTES = 72, 120, 5
# What is done when what was observed is outside the protocol. The same; common practice, no source.
OUTSIDE = (
    "Rouse the patient and stay.",
    "Give oxygen.",
    "Call for help: the prescriber, and the emergency team if the patient does not wake or breathes slowly.",
)
# What is asked for beside the secret, by role, the least first.
NO_FACTOR, CODE_OR_PASSKEY, PASSKEY = ASKED_FACTORS = ("none", "code-or-passkey", "passkey")
# Where practice differs from unit to unit: what a unit may have otherwise than its site.
UNIT_MAY_SET = ("capnography_required", "pharmacist_required")


# Whether the patient's name, which is compared with nothing, stands on a record.
PRINTED, LEFT_OUT = "printed", "left out"
# What stands of a unit or a bed where nobody may be known: as it is, under a keyed pseudonym, or nothing.
KEPT, PSEUDONYM = "kept", "pseudonym"


@dataclass(frozen=True, kw_only=True)
class BaselineRule:
    """What must be observed before any dose; quantities as text, judged by whoever can read quantities."""

    scale: str
    levels: tuple[tuple[str, str], ...]
    may_start_at: tuple[str, ...]
    lowest_respiratory_rate: str
    lowest_spo2: str
    outside: tuple[str, ...]

    def as_read(self, words: str) -> str:
        """A level as it is read and kept: with the scale that it is one of."""
        return f"{words} ({self.scale})"


@dataclass(frozen=True, kw_only=True)
class TrainingRule:
    """What people are trained in before they take anything up at a patient, and for how long it counts."""

    topics: tuple[str, ...]
    counts_for: timedelta


@dataclass(frozen=True, kw_only=True)
class Accountability:
    """The statement by which people answer for what they sign, in paragraphs; known by its digest."""

    version: str
    text: tuple[str, ...]

    @property
    def digest(self) -> str:
        """Of version and text: a text that changed is accepted anew, whatever its version says."""
        return digest(canonical({"version": self.version, "text": list(self.text)}))


@dataclass(frozen=True, kw_only=True)
class RefusedRule:
    """So many refused signings of one login within a time are told at once."""

    count: int
    within: timedelta


@dataclass(frozen=True, kw_only=True)
class OrderRule:
    """How orders from other systems are taken: for how long one counts, and how many a sender may send.

    `patient_system` is the system of the identifiers on this site's wristbands; blank where any will do. What
    is dated later than the clock by more than `ahead` is not taken.
    """

    counts_for: timedelta
    most_in_a_minute: int
    patient_system: str
    ahead: timedelta


@dataclass(frozen=True, kw_only=True)
class SitePolicy:
    """One version of a site's policy; `is_scanned`: labels are scanned here, and so by both.

    `also_read` names what is asked here beside what every site asks. What is None is not asked for here;
    `engine` and `account` are in the words of the contracts.
    """

    version: str
    site: str
    zone: str
    adult_age: int
    clearance: timedelta
    join_code_life: timedelta
    idle: timedelta
    check_due: timedelta
    paper_check_due: timedelta
    lowered_check_due: timedelta
    transfer_check_due: timedelta
    break_cover: timedelta
    passes_on: timedelta
    pause: timedelta
    syringe_in_use: timedelta
    away: timedelta
    exports_kept: timedelta
    deidentified_units: str
    deidentified_beds: str
    staff_boluses_call: int
    shift_changes: tuple[str, ...]
    is_scanned: bool
    name_on_record: str
    also_read: tuple[str, ...]
    witnesses: tuple[str, ...]
    second_factor: Mapping[str, str]
    training: TrainingRule | None
    accountability: Accountability | None
    refused_signings: RefusedRule | None
    login_unused: timedelta | None
    orders: OrderRule
    baseline: BaselineRule
    engine: Mapping[str, Any]
    account: Mapping[str, Any]

    @property
    def scale_division(self) -> str:
        """Of a syringe's scale; its default is the contract's."""
        return str(self.account.get("scale_division") or "1 mL")

    def asks_of(self, roles: Iterable[str]) -> str:
        """What is asked for beside the secret of somebody with these roles: the most of what each asks."""
        asked = (self.second_factor.get(role, NO_FACTOR) for role in roles)
        return max(asked, key=ASKED_FACTORS.index, default=NO_FACTOR)


# What the account and the comparison count alike.
_OF_BOTH = ("limit_counts_continuous",)


def policy_from(content: Mapping[str, Any], unit: str = "") -> SitePolicy:
    """Read a published policy, as it is on a unit; a missing key is a bug in what was published."""
    baseline = content["baseline"]
    engine = {**content["engine"], **content.get("units", {}).get(unit, {})}
    return SitePolicy(
        version=content["version"],
        site=content["site"],
        zone=content["zone"],
        adult_age=content["adult_age"],
        clearance=timedelta(minutes=content["clearance_minutes"]),
        join_code_life=timedelta(minutes=content["join_code_minutes"]),
        idle=timedelta(minutes=content["idle_minutes"]),
        check_due=timedelta(minutes=content["check_due_minutes"]),
        paper_check_due=timedelta(minutes=content.get("paper_check_due_minutes", PAPER_CHECK_MINUTES)),
        lowered_check_due=timedelta(minutes=content.get("lowered_check_due_minutes", LOWERED_CHECK_MINUTES)),
        transfer_check_due=timedelta(
            minutes=content.get("transfer_check_due_minutes", TRANSFER_CHECK_MINUTES)
        ),
        break_cover=timedelta(minutes=content.get("break_minutes", BREAK_MINUTES)),
        passes_on=timedelta(hours=content.get("set_up_passes_on_hours", PASSES_ON_HOURS)),
        pause=timedelta(minutes=content.get("pause_minutes", PAUSE_MINUTES)),
        syringe_in_use=timedelta(hours=content.get("syringe_in_use_hours", SYRINGE_IN_USE_HOURS)),
        away=timedelta(minutes=content.get("away_minutes", AWAY_MINUTES)),
        deidentified_units=content.get("deidentified_units", PSEUDONYM),
        deidentified_beds=content.get("deidentified_beds", LEFT_OUT),
        exports_kept=timedelta(hours=content.get("exports_kept_hours", EXPORTS_KEPT_HOURS)),
        staff_boluses_call=content.get("staff_boluses_call", STAFF_BOLUSES_CALL),
        shift_changes=tuple(content.get("shift_changes", SHIFT_CHANGES)),
        is_scanned=content["labels_are_scanned"],
        name_on_record=content["patient_name_on_record"],
        also_read=tuple(content.get("also_read", ())),
        witnesses=tuple(content.get("witnesses", WITNESSES)),
        second_factor=content.get("second_factor", {}),
        training=_training(content.get("training")),
        accountability=_accountability(content.get("accountability")),
        refused_signings=_refused_signings(content.get("refused_signings")),
        login_unused=timedelta(days=days) if (days := content.get("login_unused_days")) else None,
        orders=_orders(content.get("orders", {})),
        baseline=BaselineRule(
            scale=baseline["scale"],
            levels=tuple((each["key"], each["words"]) for each in baseline["levels"]),
            may_start_at=tuple(baseline["may_start_at"]),
            lowest_respiratory_rate=baseline["lowest_respiratory_rate"],
            lowest_spo2=baseline["lowest_spo2"],
            outside=tuple(baseline.get("outside", OUTSIDE)),
        ),
        engine=engine,
        account={**content.get("account", {}), **{each: engine[each] for each in _OF_BOTH if each in engine}},
    )


def _training(said: Mapping[str, Any] | None) -> TrainingRule | None:
    if said is None:
        return None
    return TrainingRule(topics=tuple(said["topics"]), counts_for=timedelta(days=said["days"]))


def _accountability(said: Mapping[str, Any] | None) -> Accountability | None:
    return None if said is None else Accountability(version=said["version"], text=tuple(said["text"]))


def _refused_signings(said: Mapping[str, Any] | None) -> RefusedRule | None:
    if said is None:
        return None
    return RefusedRule(count=said["count"], within=timedelta(minutes=said["within_minutes"]))


def _orders(said: Mapping[str, Any]) -> OrderRule:
    return OrderRule(
        counts_for=timedelta(hours=said.get("count_for_hours", ORDER_HOURS)),
        most_in_a_minute=said.get("most_in_a_minute", ORDERS_IN_A_MINUTE),
        patient_system=said.get("patient_system", ""),
        ahead=timedelta(minutes=said.get("ahead_minutes", ORDERS_AHEAD_MINUTES)),
    )
