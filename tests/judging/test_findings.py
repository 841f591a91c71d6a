"""A finding as it is kept, from the engine's or our own: its name, and the way to JSON and back."""

import json
from dataclasses import replace
from fractions import Fraction

import pytest

from app.comparison import Finding, Origin, Severity
from app.judging.beside import read_alike
from app.judging.findings import finding_key, kept, salted, stop
from app.records.canonical import canonical
from app.records.followup import Found, findings_in
from tests.factories.answers import answers

ABOUT = {"code": "limit-is-passed", "field": "limit.amount", "clinician": ""}


def key(**changes: object) -> str:
    given = {**ABOUT, "readings": {"A.device": "2 mg"}, "says": "At full use 2.4 mg is given.", **changes}
    return finding_key(**given)  # type: ignore[arg-type]  # named one by one in the table below


@pytest.mark.parametrize(
    "changes",
    [
        {"code": "limit-required"},
        {"field": "demand_dose"},
        {"clinician": "A"},
        {"readings": {"A.device": "3 mg"}},
        # The consequence grew while the field itself stands: it is another finding, to be acknowledged anew.
        {"says": "At full use 24 mg is given."},
    ],
)
def test_a_finding_about_something_else_has_another_name(changes: dict[str, object]) -> None:
    assert key(**changes) != key()
    assert key() == key()


def test_a_finding_keeps_its_name_for_good() -> None:
    # What was acknowledged or set aside is found again by it, also by a later program.
    assert key() == "83e88cc1f99a053c"


def test_the_name_that_leaves_the_comparison_is_salted() -> None:
    found = tuple(read_alike(answers(), answers(device={"pack": "set-200-y"})))
    (one,), (again,), (other,) = (salted(found, salt) for salt in ("5a", "5a", "5b"))

    assert one == again
    assert len({found[0].key, one.key, other.key}) == 3
    assert {len(each.key) for each in (found[0], one, other)} == {16}
    # The name alone is another; and what was compared without a salt keeps the name it has.
    assert replace(one, key=found[0].key) == found[0]
    assert salted(found, "") == found


# ---------------------------------------------------------------------------------------------------------
# One way there, one way back

OF_THE_ENGINE = Finding(
    code="device-differs",
    severity=Severity.STOP,
    field="demand_dose",
    readings={"A.order": "1 mg", "A.device": "1500 mcg", "B.order": None, "B.device": "none"},
    says="Order and device do not agree on the demand dose.",
    origin=Origin.PROGRAMMING,
    slip="decimal-shift",
    factor=Fraction(3, 2),
    clinician="B",
)


def test_a_finding_of_the_engine_is_kept_with_all_it_says() -> None:
    assert kept(OF_THE_ENGINE) == Found(
        key=finding_key(
            code="device-differs",
            field="demand_dose",
            clinician="B",
            readings=OF_THE_ENGINE.readings,
            says=OF_THE_ENGINE.says,
        ),
        code="device-differs",
        severity="stop",
        field="demand_dose",
        clinician="B",
        readings=OF_THE_ENGINE.readings,
        says="Order and device do not agree on the demand dose.",
        slip="decimal-shift",
        factor="1.5",
        origin="programming",
    )


def test_a_finding_about_a_patient_at_risk_is_kept_with_its_group_and_its_reasons() -> None:
    at_risk = replace(
        OF_THE_ENGINE,
        code="patient-at-risk",
        severity=Severity.CAUTION,
        reasons=("sedatives",),
        fields=("chart.sedatives",),
    )
    found = kept(at_risk)

    assert (found.group, found.reasons, found.fields) == ("patient", ("sedatives",), ("chart.sedatives",))
    assert (kept(OF_THE_ENGINE).group, kept(OF_THE_ENGINE).reasons) == ("", ())


def test_what_a_finding_does_not_say_is_blank() -> None:
    found = kept(replace(OF_THE_ENGINE, origin=None, slip=None, factor=None, clinician=None))

    assert (found.origin, found.slip, found.factor, found.clinician) == ("", "", "", "")


def test_a_stop_of_our_own_is_kept_like_every_other() -> None:
    readings = {"A.device": "one", "B.device": None}
    found = stop(
        code="readings-differ", field="pack", readings=readings, says="Look again.", origin="reading"
    )
    same = Finding(
        code="readings-differ",
        severity=Severity.STOP,
        field="pack",
        readings=readings,
        says="Look again.",
        origin=Origin.READING,
    )

    assert found == kept(same)


def test_a_finding_comes_back_from_json_as_it_went() -> None:
    found = (kept(OF_THE_ENGINE), *read_alike(answers(), answers(device={"pack": "set-200-y"})))
    written = canonical({"findings": [each.as_data() for each in found]})

    assert findings_in(json.loads(written)) == found
