"""What follows a stop: the design's table, row by row."""

from dataclasses import replace

import pytest

from app.accounting.findings import SEVERITIES as OF_ACCOUNT
from app.comparison.findings import SEVERITIES
from app.comparison.reasons import reasons_for
from app.records.fields import FIELDS, field_of
from app.records.followup import (
    AFTER,
    NOT_COMPUTED,
    OF_ISSUE,
    OF_THE_ACCOUNT,
    Follow,
    Found,
    by_severity,
    differing_sources,
    findings_in,
    scope_of_touched,
    scope_to_read_again,
    sources_of,
    worst_first,
)
from app.records.reading import WHOLE, Scope, fields_in
from app.records.sources import CAN_BE_PUT_RIGHT, Source
from tests.factories.findings import CAUTION, DEVICE_WRONG, DIFFER, NOTE, RULE, a_finding

READ_AGAIN = "read again"
PUT_RIGHT = "put right"
A_RULE = "a rule that the right person may set aside"
RECOUNTED = "recounted by both together"
OF_SYRINGES = ("issued-elsewhere", "issued-unsealed", "part-used-not-of-this", "part-used-too-long")

WORDS = {
    Follow.READ_AGAIN: READ_AGAIN,
    Follow.PUT_RIGHT: PUT_RIGHT,
    Follow.RULE: A_RULE,
    Follow.RECOUNT: RECOUNTED,
}

TABLE = {
    "reading-missing": READ_AGAIN,
    "readings-differ": READ_AGAIN,
    "primed-volume-differs": READ_AGAIN,
    "not-in-force": READ_AGAIN,
    "line-not-as-it-should-be": READ_AGAIN,
    "button-not-the-patients": READ_AGAIN,
    "changed-since": PUT_RIGHT,
    "outside-protocol": A_RULE,
    "patient-differs": PUT_RIGHT,
    "runs-elsewhere": PUT_RIGHT,
    "bed-still-runs": PUT_RIGHT,
    "syringe-size-differs": PUT_RIGHT,
    "label-over-barrel": PUT_RIGHT,
    "primed-volume-below-set": PUT_RIGHT,
    "order-differs-from-record": PUT_RIGHT,
    "label-differs": PUT_RIGHT,
    "device-differs": PUT_RIGHT,
    "mode-conflict": PUT_RIGHT,
    "concentration-inconsistent": PUT_RIGHT,
    "limit-below-dose": PUT_RIGHT,
    "limit-below-continuous": PUT_RIGHT,
    "limit-blocks-demands": PUT_RIGHT,
    "label-expired": PUT_RIGHT,
    # The chart.
    "order-not-current": PUT_RIGHT,
    "order-not-verified": PUT_RIGHT,
    "allergy-charted": PUT_RIGHT,
    "cannot-use-button": PUT_RIGHT,
    "neuraxial-opioid-running": PUT_RIGHT,
    # Library and policy.
    "above-hard-limit": A_RULE,
    "below-hard-limit": A_RULE,
    "drug-not-in-library": A_RULE,
    "concentration-not-in-library": A_RULE,
    "carrier-not-allowed": A_RULE,
    "strength-for-tolerant-only": A_RULE,
    "continuous-in-patient-at-risk": A_RULE,
    "monitoring-off": A_RULE,
    "alarm-outside-bounds": A_RULE,
    "alarm-not-set": A_RULE,
    **{code: A_RULE for code, severity in SEVERITIES.items() if severity == "caution"},
    # What was issued, and what is loaded again.
    **dict.fromkeys(OF_SYRINGES, PUT_RIGHT),
    **dict.fromkeys((*OF_ISSUE, NOT_COMPUTED), RECOUNTED),
    # The account.
    **{f"account-{code}": RECOUNTED for code in OF_ACCOUNT},
}

# No exception is ever granted for these: the wrong patient, an infusion that runs already, readings that
# disagree, a label or device that is not the order, an expired label, an allergy.
NEVER = (
    "patient-differs",
    "runs-elsewhere",
    "bed-still-runs",
    "issued-elsewhere",
    "issued-unsealed",
    "readings-differ",
    "reading-missing",
    "label-differs",
    "device-differs",
    "label-expired",
    "allergy-charted",
)


@pytest.mark.parametrize("code", TABLE)
def test_what_follows_each_code(code: str) -> None:
    assert WORDS[AFTER[code]] == TABLE[code]


def test_the_table_is_whole() -> None:
    assert TABLE.keys() == AFTER.keys()


@pytest.mark.parametrize("code", NEVER)
def test_some_stops_are_never_set_aside(code: str) -> None:
    assert AFTER[code] is not Follow.RULE


def test_a_stop_that_nobody_thought_of_is_a_bug_and_no_free_pass() -> None:
    unknown = Found(**{**vars(DEVICE_WRONG), "code": "invented"})

    with pytest.raises(KeyError):
        _ = unknown.follow


# ---------------------------------------------------------------------------------------------------------
# Which sources a finding speaks of, and where readings differ

PAIR = ("order", "device")


@pytest.mark.parametrize(
    ("found", "sources"),
    [
        (DEVICE_WRONG, ("order", "device")),
        (
            a_finding("label-differs", "drug", {"A.order": "x", "A.label": "y", "record": "x"}),
            ("order", "label"),
        ),
        (
            a_finding(
                "patient-differs",
                "patient.identifier",
                {"A.wristband": "1", "A.chart": None, "A.order": "2", "A.label": "1", "case": "1"},
            ),
            ("wristband", "order", "label"),
        ),
        (a_finding("monitoring-off", "monitor.capnography", {"A.device": "off"}), ("monitor",)),
        (a_finding("reading-missing", "chart.allergy", {"A.chart": None, "B.chart": None}), ("chart",)),
        (a_finding("above-hard-limit", "amount_per_hour", {}), ()),
    ],
)
def test_the_sources_of_a_finding(found: Found, sources: tuple[str, ...]) -> None:
    assert sources_of(found) == sources


READ: dict[str, tuple[str, dict[str, str | None], tuple[str, ...]]] = {
    "one differs": (
        "readings-differ",
        {"A.order": "1 mg", "B.order": "1 mg", "A.device": "1 mg", "B.device": "10 mg"},
        ("device",),
    ),
    "both differ": (
        "readings-differ",
        {"A.order": "1 mg", "B.order": "2 mg", "A.device": "1 mg", "B.device": "10 mg"},
        ("order", "device"),
    ),
    "one did not read it": (
        "reading-missing",
        {"A.order": "1 mg", "B.order": "1 mg", "A.device": "1 mg", "B.device": None},
        ("device",),
    ),
    "neither read it": (
        "reading-missing",
        {"A.order": "1 mg", "B.order": "1 mg", "A.device": None, "B.device": None},
        ("device",),
    ),
    # One finding a field: what is missing in one source must not hide what differs in the other.
    "missing in one source and different in the other": (
        "reading-missing",
        {"A.order": "1 mg", "B.order": "2 mg", "A.device": "1 mg", "B.device": None},
        ("order", "device"),
    ),
    "given by neither, and not missing": (
        "readings-differ",
        {"A.order": None, "B.order": None, "A.device": "1 mg", "B.device": "10 mg"},
        ("device",),
    ),
}


@pytest.mark.parametrize("case", READ)
def test_where_readings_differ_or_are_missing(case: str) -> None:
    code, readings, sources = READ[case]

    assert differing_sources(a_finding(code, "demand_dose", readings)) == sources


def test_a_field_of_one_source_is_looked_at_there() -> None:
    found = a_finding("reading-missing", "monitor.capnography", {"A.device": None, "B.device": "on"})

    assert differing_sources(found) == ("monitor",)


# ---------------------------------------------------------------------------------------------------------
# What is read again

DIFFERING = {"A.device": "a", "B.device": "b"}

AGAIN: dict[str, tuple[Found, Scope]] = {
    "demand dose": (DIFFER, (("device", ("demand_dose",)),)),
    "the concentration: everything about the strength": (
        a_finding("readings-differ", "concentration", DIFFERING),
        (("device", ("amount", "concentration", "strength", "volume")),),
    ),
    "the mode: and what depends on it": (
        a_finding("readings-differ", "mode", DIFFERING),
        (("device", ("continuous_rate", "demand_dose", "lockout", "mode")),),
    ),
    "the limit's amount: and its window": (
        a_finding("readings-differ", "limit.amount", DIFFERING),
        (
            (
                "device",
                (
                    "limit_2_amount",
                    "limit_2_window",
                    "limit_3_amount",
                    "limit_3_window",
                    "limit_amount",
                    "limit_window",
                ),
            ),
        ),
    ),
    "the carrier's rate: and its fluid": (
        a_finding("readings-differ", "carrier.rate", DIFFERING),
        (("device", ("carrier_fluid", "carrier_rate")),),
    ),
    "the patient": (
        a_finding(
            "readings-differ",
            "patient.birth_date",
            {"A.wristband": "a", "B.wristband": "a", "A.order": "a", "B.order": "b"},
        ),
        (("order", ("birth_date",)),),
    ),
    "the monitor": (
        a_finding("readings-differ", "monitor.low_spo2", DIFFERING),
        (("monitor", ("low_spo2",)),),
    ),
    "the chart": (
        a_finding("readings-differ", "chart.weight", {"A.chart": "1", "B.chart": "2"}),
        (("chart", ("weight",)),),
    ),
    "the syringe's size": (
        a_finding("readings-differ", "syringe_size", {"A.label": "a", "B.label": "b"}),
        (("label", ("syringe_size",)),),
    ),
    "a device that is not the order: nothing by itself": (DEVICE_WRONG, ()),
    "a caution": (CAUTION, ()),
}


@pytest.mark.parametrize("case", AGAIN)
def test_what_is_read_again(case: str) -> None:
    found, scope = AGAIN[case]

    assert scope_to_read_again([found]) == scope


def test_what_is_read_again_comes_once_and_in_reading_order() -> None:
    both = a_finding(
        "readings-differ", "lockout", {"A.device": "a", "B.device": "b", "A.order": "1", "B.order": "2"}
    )

    assert scope_to_read_again([DEVICE_WRONG, DIFFER, CAUTION, both, DIFFER]) == (
        ("order", ("lockout",)),
        ("device", ("demand_dose", "lockout")),
    )


@pytest.mark.parametrize(
    ("source", "name"), [(source, each.name) for source, fields in FIELDS.items() for each in fields]
)
def test_every_field_can_be_read_again(source: Source, name: str) -> None:
    found = a_finding(
        "readings-differ", field_of(source, name).finding, {f"A.{source}": "a", f"B.{source}": "b"}
    )
    asked = scope_to_read_again([found])

    assert [each for each, _ in asked] == [source]
    assert name in {each.name for each in fields_in(asked, source)}


def test_whoever_puts_a_source_right_touches_all_of_it() -> None:
    assert scope_of_touched(["device", "label"]) == (("label", ()), ("device", ()))
    assert scope_of_touched([]) == ()
    assert scope_of_touched([source.value for source in Source]) == WHOLE
    assert all(fields_in(WHOLE, source) == FIELDS[source] for source in CAN_BE_PUT_RIGHT)


# ---------------------------------------------------------------------------------------------------------
# Every code


# A site may make it a caution.
_EITHER = "continuous-in-patient-at-risk"


@pytest.mark.parametrize("code", SEVERITIES)
def test_every_caution_of_the_engine_has_its_reasons(code: str) -> None:
    assert bool(reasons_for(code)) is (SEVERITIES[code] == "caution" or code == _EITHER)
    assert isinstance(reasons_for(code), tuple)


def test_every_caution_of_the_account_has_its_reasons_but_what_lists_tell() -> None:
    cautions = {code for code, severity in OF_ACCOUNT.items() if severity == "caution"}

    assert {code for code in OF_ACCOUNT if reasons_for(f"account-{code}")} == cautions - {
        "in-hand",
        "ask-pharmacy",
    }


def test_every_stop_and_whatever_a_site_may_raise_to_one_has_its_row() -> None:
    of_handoffs = {"not-in-force", "changed-since", "outside-protocol"}
    beside_the_engine = {"runs-elsewhere", "bed-still-runs", *of_handoffs}
    beside_the_engine |= {"line-not-as-it-should-be", "button-not-the-patients"}
    beside_the_engine |= {*OF_SYRINGES, *OF_ISSUE, NOT_COMPUTED, "label-over-barrel"}
    of_engine = {code for code, severity in SEVERITIES.items() if severity != "note"}
    of_account = {f"account-{code}" for code in OF_ACCOUNT}
    assert AFTER.keys() == of_engine | beside_the_engine | of_account
    assert tuple(OF_ACCOUNT) == OF_THE_ACCOUNT


def test_the_worst_comes_first_and_no_ratio_before_the_wrong_patient_or_an_allergy() -> None:
    patient = a_finding("patient-differs", field="patient.identifier")
    allergy = replace(a_finding("readings-differ", field="chart.allergy"), code="allergy-charted")
    limit = a_finding("above-hard-limit")
    # As they are kept: the engine's in the order of its table, then the chart's.
    kept = (NOTE, DEVICE_WRONG, patient, limit, CAUTION, allergy)
    assert worst_first(kept) == (patient, allergy, DEVICE_WRONG, limit, CAUTION, NOTE)


# ---------------------------------------------------------------------------------------------------------
# What stands, and what is kept of it

NO_STOP = replace(RULE, severity="caution")


@pytest.mark.parametrize(
    ("found", "exempt", "is_open"),
    [
        (RULE, set(), True),
        (RULE, {DEVICE_WRONG.key}, True),
        (RULE, {RULE.key}, False),
        # Only a rule can be set aside.
        (DEVICE_WRONG, {DEVICE_WRONG.key}, True),
        (DIFFER, {DIFFER.key}, True),
        (CAUTION, set(), False),
        (NOTE, set(), False),
        (NO_STOP, set(), False),
    ],
)
def test_a_stop_is_open_until_the_right_person_sets_a_rule_aside(
    found: Found, exempt: set[str], *, is_open: bool
) -> None:
    assert found.is_open(exempt) is is_open


@pytest.mark.parametrize(
    ("found", "reads_apart"),
    [
        (DIFFER, True),
        (a_finding("reading-missing"), True),
        (a_finding("patient-differs", field="patient.identifier"), False),
        (DEVICE_WRONG, False),
        (RULE, False),
        (CAUTION, False),
        (NOTE, False),
    ],
)
def test_readings_apart_are_a_stop_that_is_read_again(found: Found, *, reads_apart: bool) -> None:
    assert found.reads_apart is reads_apart


def test_the_worst_comes_first_and_the_rest_stays() -> None:
    assert by_severity([NOTE, CAUTION, DIFFER, RULE]) == (DIFFER, RULE, CAUTION, NOTE)


def test_what_is_kept_of_a_finding_is_the_finding() -> None:
    assert findings_in({"findings": [DIFFER.as_data(), NOTE.as_data()]}) == (DIFFER, NOTE)
    assert DIFFER.as_data()["readings"] is not DIFFER.readings
    assert list(DIFFER.as_data()) == list(vars(DIFFER))
