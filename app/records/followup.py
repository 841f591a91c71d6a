"""What follows a stop: one table, one row a code. A code that is not here is a bug, not a free pass."""

from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass
from enum import StrEnum
from typing import Any

from app.records.fields import find_field, read_together
from app.records.kinds import SETTINGS_CHANGE, SYRINGE_CHANGE, Kind
from app.records.reading import Scope
from app.records.sources import CAN_BE_PUT_RIGHT, Source


class Follow(StrEnum):
    """The three rows of the design's table."""

    READ_AGAIN = "those fields are read again, blind, by both"
    PUT_RIGHT = "the source is put right, and both read all of it again, blind"
    RULE = "a rule: put right, or set aside by the right person for one infusion, one field, one value"
    RECOUNT = "recounted once by both together, not blind; then the charge nurse's until she closes it"


# More than this many readings of the same fields, and the two cannot settle it alone.
REREADINGS_BEFORE_HELP = 2

# What the account finds; of each the table of its contract says how much it weighs.
OF_THE_ACCOUNT = (
    "time-disorder",
    "reading-missing",
    "strength-set-differs",
    "totals-went-back",
    "totals-not-attributed",
    "presses-below-doses",
    "doses-above-possible",
    "totals-above-possible",
    "totals-above-predicted",
    "left-rose",
    "left-below-predicted",
    "left-above-predicted",
    "more-than-left",
    "unexplained",
    "not-witnessed",
    "not-received",
    "totals-below-predicted",
    "doses-below-boluses",
    "presses-far-above-doses",
    "in-hand",
    "ask-pharmacy",
    "series-not-from-zero",
)
# What two read beside what was issued, or was left: nothing is gained by counting it again.
OF_ISSUE = (
    "issued-otherwise",
    "issued-volume-differs",
    "issued-out",
    "part-used-volume-differs",
    "another-syringe",
    "ran-unread",
)
NOT_COMPUTED = "account-not-computed"
"""No account can be made of what was written."""
# What counting once more can settle; the others are the charge nurse's at once.
RECOUNTED = frozenset(
    {
        "account-totals-went-back",
        "account-presses-below-doses",
        "account-doses-above-possible",
        "account-totals-above-possible",
        "account-totals-above-predicted",
        "account-left-rose",
        "account-left-below-predicted",
        "account-left-above-predicted",
        "account-more-than-left",
        "account-unexplained",
    }
)
OF_PATIENT, OF_ACCOUNT = "patient", "account"
"""A stop of the account is about the patient while more may have been given than was meant, else itself."""

AFTER: dict[str, Follow] = {
    "reading-missing": Follow.READ_AGAIN,
    "readings-differ": Follow.READ_AGAIN,
    "primed-volume-differs": Follow.READ_AGAIN,
    # What one of the two alone read, beside what is in force.
    "not-in-force": Follow.READ_AGAIN,
    "line-not-as-it-should-be": Follow.READ_AGAIN,
    "button-not-the-patients": Follow.READ_AGAIN,
    "changed-since": Follow.PUT_RIGHT,
    "patient-differs": Follow.PUT_RIGHT,
    "runs-elsewhere": Follow.PUT_RIGHT,
    "bed-still-runs": Follow.PUT_RIGHT,
    "issued-elsewhere": Follow.PUT_RIGHT,
    "issued-unsealed": Follow.PUT_RIGHT,
    "part-used-not-of-this": Follow.PUT_RIGHT,
    "part-used-too-long": Follow.PUT_RIGHT,
    "order-differs-from-record": Follow.PUT_RIGHT,
    "label-differs": Follow.PUT_RIGHT,
    "device-differs": Follow.PUT_RIGHT,
    "syringe-size-differs": Follow.PUT_RIGHT,
    "label-over-barrel": Follow.PUT_RIGHT,
    "primed-volume-below-set": Follow.PUT_RIGHT,
    "mode-conflict": Follow.PUT_RIGHT,
    "concentration-inconsistent": Follow.PUT_RIGHT,
    "limit-below-dose": Follow.PUT_RIGHT,
    "limit-below-continuous": Follow.PUT_RIGHT,
    "limit-blocks-demands": Follow.PUT_RIGHT,
    "label-expired": Follow.PUT_RIGHT,
    "order-not-current": Follow.PUT_RIGHT,
    "order-not-verified": Follow.PUT_RIGHT,
    "allergy-charted": Follow.PUT_RIGHT,
    "cannot-use-button": Follow.PUT_RIGHT,
    "neuraxial-opioid-running": Follow.PUT_RIGHT,
    "above-hard-limit": Follow.RULE,
    "below-hard-limit": Follow.RULE,
    "drug-not-in-library": Follow.RULE,
    "concentration-not-in-library": Follow.RULE,
    "carrier-not-allowed": Follow.RULE,
    "strength-for-tolerant-only": Follow.RULE,
    "continuous-in-patient-at-risk": Follow.RULE,
    "monitoring-off": Follow.RULE,
    "alarm-outside-bounds": Follow.RULE,
    "alarm-not-set": Follow.RULE,
    "outside-protocol": Follow.RULE,
    # Cautions, where a site raises them to stops.
    "carrier-rate-differs": Follow.RULE,
    "verified-as-urgent-exception": Follow.RULE,
    "intolerance-reviewed": Follow.RULE,
    "allergy-not-recorded": Follow.RULE,
    "patient-at-risk": Follow.RULE,
    "above-soft-limit": Follow.RULE,
    "below-soft-limit": Follow.RULE,
    "concentration-unordered": Follow.RULE,
    "limit-required": Follow.RULE,
    "continuous-opioid-naive": Follow.RULE,
    "carrier-not-listed": Follow.RULE,
    "primed-volume-above-set": Follow.RULE,
    "dose-below-step": Follow.RULE,
    "limit-is-passed": Follow.RULE,
    **dict.fromkeys((*OF_ISSUE, NOT_COMPUTED), Follow.RECOUNT),
    **{f"account-{code}": Follow.RECOUNT for code in OF_THE_ACCOUNT},
}


# What is wrong with order or device alone is put right by programming it anew, the syringe as it is.
_SET_ANEW = frozenset(
    {
        "order-differs-from-record",
        "device-differs",
        "syringe-size-differs",
        "mode-conflict",
        "limit-below-dose",
        "limit-below-continuous",
        "limit-blocks-demands",
        "above-hard-limit",
        "below-hard-limit",
        "limit-required",
        "above-soft-limit",
        "below-soft-limit",
        "dose-below-step",
        "limit-is-passed",
    }
)


class Severity(StrEnum):
    """How much a finding weighs; the worst comes first."""

    STOP = "stop"
    CAUTION = "caution"
    NOTE = "note"


@dataclass(frozen=True, kw_only=True)
class Found:
    """One finding as it is kept in a comparison; `key` names it by what it is about, to know it again.

    `group` says with which other cautions it is settled, `about` what a stop of the account is about.
    `reasons` are why the patient is at risk, and `fields` the risk answers that were read differently, of
    the findings that say so.
    """

    key: str
    code: str
    severity: str
    field: str
    clinician: str
    readings: Mapping[str, str | None]
    says: str
    slip: str
    factor: str
    origin: str
    group: str = ""
    about: str = ""
    reasons: tuple[str, ...] = ()
    fields: tuple[str, ...] = ()

    @property
    def follow(self) -> Follow:
        """What follows it, when it is a stop."""
        return AFTER[self.code]

    @property
    def reads_apart(self) -> bool:
        """Whether it is a stop because readings differ or are missing."""
        return self.severity == Severity.STOP and self.follow is Follow.READ_AGAIN

    @property
    def is_of_account(self) -> bool:
        """Whether it is a stop of the account: both sign that it is open, it keeps neither from signing."""
        return self.severity == Severity.STOP and self.follow is Follow.RECOUNT

    @property
    def is_recounted(self) -> bool:
        """Whether it is a stop that both count together once more."""
        return self.is_of_account and self.code in RECOUNTED

    def is_open(self, exempt: Collection[str]) -> bool:
        """Whether it is a stop that keeps the two from signing.

        Only a rule can be set aside, and `exempt` names what was; a stop of the account both sign as open.
        """
        if self.severity != Severity.STOP or self.is_of_account:
            return False
        return not (self.follow is Follow.RULE and self.key in exempt)

    def as_data(self) -> dict[str, Any]:
        """As a comparison keeps it."""
        listed = {"reasons": list(self.reasons), "fields": list(self.fields)}
        return {**vars(self), "readings": dict(self.readings), **listed}


def leads_to(kind: Kind, stops: Collection[Found], *, in_force: str) -> str:
    """The kind of check that puts right what one of this kind found and does not: the narrowest that does.

    Where no check has put anything `in_force`, nothing narrower than a set-up can change it.
    """
    if not kind.leads_to or not stops or not in_force:
        return kind.leads_to
    is_settings = all(each.code in _SET_ANEW and each.field != "drug" for each in stops)
    if {each.code for each in stops} == {"label-expired"}:
        return SYRINGE_CHANGE.name
    return SETTINGS_CHANGE.name if is_settings else kind.leads_to


def findings_in(comparison: Mapping[str, Any]) -> tuple[Found, ...]:
    """The findings of a comparison as it was kept."""
    return tuple(
        Found(**{**each, "reasons": tuple(each["reasons"]), "fields": tuple(each["fields"])})
        for each in comparison["findings"]
    )


_WEIGHT = {severity.value: place for place, severity in enumerate(Severity)}
# No dose is right for another patient, nor beside another infusion, nor of a drug to which the patient is
# allergic.
WHATEVER_THE_DOSE = (
    "patient-differs",
    "runs-elsewhere",
    "bed-still-runs",
    "issued-elsewhere",
    "allergy-charted",
)


def by_severity(findings: Iterable[Found]) -> tuple[Found, ...]:
    """The worst first; the rest stays as it is."""
    return tuple(sorted(findings, key=lambda each: _WEIGHT[each.severity]))


def worst_first(findings: Iterable[Found]) -> tuple[Found, ...]:
    """By severity, then what holds whatever the dose is, last what is about the account alone.

    The rest stays in the order of the contract.
    """
    return tuple(sorted(findings, key=_danger))


def _danger(found: Found) -> tuple[int, bool, int]:
    place = (*WHATEVER_THE_DOSE, found.code).index(found.code)
    return _WEIGHT[found.severity], found.about == OF_ACCOUNT, place


# What is read from one of these is compared with no other source.
_ON_ITS_OWN = frozenset({Source.WRISTBAND, Source.CHART, Source.MONITOR, Source.TOTALS, Source.BEDSIDE})


def sources_of(found: Found) -> tuple[str, ...]:
    """The sources a finding speaks of, each once, in reading order."""
    own = _own_source(found)
    named = {own} if own else {name.rpartition(".")[2] for name in found.readings}
    field = find_field(found.field)
    return tuple(
        source.value for source in Source if source.value in named and (not field or source in field.sources)
    )


def _own_source(found: Found) -> Source | None:
    """The one source of which a finding speaks, whatever the engine calls it."""
    field = find_field(found.field)
    match field.sources if field else ():
        case (alone,) if alone in _ON_ITS_OWN:
            return alone
        case _:
            return None


def differing_sources(found: Found) -> tuple[str, ...]:
    """For readings that differ or are missing: the sources that must be looked at again."""
    if _own_source(found):
        return sources_of(found)
    return tuple(source for source in sources_of(found) if _differs(found, source))


def _differs(found: Found, source: str) -> bool:
    first, second = found.readings.get(f"A.{source}"), found.readings.get(f"B.{source}")
    # A finding says the worst of a field: where one source was not read, another may be read otherwise.
    return first != second or (found.code == "reading-missing" and first is None)


def is_read_alike(found: Found) -> bool:
    """Whether both read the same of all that a finding rests on."""
    return not any(_differs(found, name.rpartition(".")[2]) for name in found.readings)


def scope_to_read_again(findings: Iterable[Found]) -> Scope:
    """The fields that both read again, blind: readings that differ or are missing, a patient that differs."""
    wanted: dict[str, set[str]] = {}
    for found in findings:
        if not found.reads_apart:
            continue
        for source in differing_sources(found):
            wanted.setdefault(source, set()).update(read_together(found.field))
    return tuple(
        (source.value, tuple(sorted(wanted[source.value]))) for source in Source if source.value in wanted
    )


def scope_of_touched(touched: Iterable[str]) -> Scope:
    """Whoever corrects a source touches all of it: both read that whole source again."""
    names = set(touched)
    return tuple((source.value, ()) for source in CAN_BE_PUT_RIGHT if source.value in names)
