"""What papers for downtime say of a site's rules, in the trade's words."""

import json
from typing import Any

import pytest

from app.records.kept import SiteData
from app.records.rules import FORMATS, LIBRARY, PACKS, POLICY, Rules
from app.words.downtime import LimitWords, drug_limits, hand_check, line_sets, unit_asks
from tests.factories.seeded import seeded
from tests.records.test_rules import AT


def rules(unit: str = "", **changes: dict[str, Any]) -> Rules:
    """The seeded rules, changed by kind."""
    published = {}
    for what in (POLICY, LIBRARY, PACKS):
        content = {**seeded(what), **changes.get(what, {})}
        written = json.dumps({**content, "format": FORMATS[what].newest}).encode()
        published[what] = SiteData(what=what, version="1", content=written, digest="d", in_force_from=AT)
    return Rules(published=published, unit=unit)


def limits(*rows: dict[str, str]) -> tuple[LimitWords, ...]:
    """The words of some limits of one drug."""
    drug = {"concentrations": ["1 mg/mL", {"is": "5 mg/mL", "tolerant_only": True}, {"is": "2 mg/mL"}]}
    (told,) = drug_limits(rules(library={"drugs": {"morphine": {**drug, "limits": list(rows)}}}))
    assert told.name == "morphine"
    assert told.strengths == ("1 mg/mL", "5 mg/mL, tolerant patients only", "2 mg/mL")
    return told.limits


LOCKOUT = {"soft_low": "6 min", "soft_high": "12 min", "hard_low": "5 min", "hard_high": "20 min"}


def test_a_limit_says_what_is_usual_and_what_is_never() -> None:
    assert limits(
        {
            "field": "lockout",
            "soft_low": "6 min",
            "soft_high": "12 min",
            "hard_low": "5 min",
            "hard_high": "20 min",
        },
        {"field": "continuous_rate", "for": "tolerant", "soft_high": "2 mg/h"},
        {"field": "continuous_rate", "for": "not-tolerant", "soft_low": "1 mg/h"},
        {"field": "amount_per_hour", "hard_high": "20 mg"},
    ) == (
        LimitWords(of="Lockout", usual="6 min to 12 min", never="below 5 min or above 20 min"),
        LimitWords(of="Continuous rate, tolerant", usual="at most 2 mg/h", never=""),
        LimitWords(of="Continuous rate, not tolerant", usual="at least 1 mg/h", never=""),
        LimitWords(of="Most in 1 h", usual="", never="above 20 mg"),
    )


def test_a_unit_has_its_own_plan() -> None:
    ward, recovery = (" ".join(unit_asks(rules(unit))) for unit in ("ward-4-east", "recovery"))
    assert "Adults only, from 18 years" in ward
    assert "Capnography: on, for everybody." in ward
    assert "A pharmacist has reviewed the order." in ward
    assert "for every patient at risk" in recovery
    assert "pharmacist" not in recovery


def asks(**engine: object) -> str:
    """What a policy with these rules alone asks for."""
    return " ".join(unit_asks(rules(policy={"engine": engine, "units": {}})))


def test_where_a_policy_says_nothing_it_is_asked_as_the_engine_does() -> None:
    said = asks()
    assert "Capnography: on with oxygen" in said
    assert "Pulse oximetry: on." in said
    assert "A pharmacist has reviewed the order." in said
    assert "The limit counts demand doses, the loading dose and the continuous part." in said
    assert "Never as a carrier" not in said


def test_what_a_policy_does_not_ask_for_is_not_said() -> None:
    said = asks(capnography_required="never", pulse_oximetry_required=False, pharmacist_required=False)
    assert "apnography" not in said
    assert "oximetry" not in said
    assert "pharmacist" not in said


def test_alarms_say_their_bounds_and_whether_they_must_be_set() -> None:
    bounds = {
        "low_spo2": {"lowest": "88 %", "highest": "94 %", "required": True},
        "apnea_time": {"highest": "30 s"},
        "high_etco2": {},
    }
    said = asks(alarm_bounds=bounds, carrier_refused=["sterile water", "glucose 5%"])
    assert "Low SpO2 alarm: 88 % to 94 %, must be set." in said
    assert "Apnea alarm delay: 30 s." in said
    assert "High end-tidal CO2 alarm: set." in said
    assert "Never as a carrier: sterile water, glucose 5%." in said


@pytest.mark.parametrize(
    ("loading", "continuous", "says"),
    [
        (False, False, "The limit counts demand doses alone."),
        (True, False, "The limit counts demand doses and the loading dose."),
        (False, True, "The limit counts demand doses and the continuous part."),
    ],
)
def test_what_the_limit_counts_is_said(says: str, *, loading: bool, continuous: bool) -> None:
    assert says in asks(limit_counts_loading=loading, limit_counts_continuous=continuous)


def test_the_hand_check_counts_the_limit_as_the_site_does() -> None:
    whole, apart = (
        {each.what[0]: each.how for each in hand_check({"limit_counts_continuous": counts})}
        for counts in (True, False)
    )
    times = "\N{MULTIPLICATION SIGN}"
    lower = "the limit where that is lower"
    assert whole["d"] == f"c {times} demand dose, + continuous rate {times} 1 h; {lower}"
    assert apart["d"] == f"c {times} demand dose; {lower}; + continuous rate {times} 1 h"
    assert whole["c"] == "60 min ÷ lockout, rounded up"
    assert whole == {each.what[0]: each.how for each in hand_check({})}


def test_a_line_set_says_what_it_holds() -> None:
    assert line_sets(rules())[0] == (
        "150 cm set, joins the carrier at a Y with valve: holds 2.3 mL, 0.5 mL of it past the junction"
    )
