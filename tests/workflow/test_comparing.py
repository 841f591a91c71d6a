"""From readings to a comparison: what the engine cannot read, what it may know, what is found besides."""

from dataclasses import replace
from datetime import UTC, datetime

import pytest

from app.judging.findings import finding_key, salted
from app.records.followup import Found
from app.records.kept import FIRST
from app.records.state import Phase
from app.workflow import comparing
from tests.factories.answers import answers
from tests.story.people import INES, NADIA, RALPH, RECOVERY, TOMAS
from tests.story.ward import CAUTIONED, Ward


def codes(ward: Ward) -> list[tuple[str, str]]:
    return [(each.code, each.field) for each in ward.state().open_stops]


@pytest.mark.parametrize(
    ("changes", "found"),
    [
        # A lockout outside 1 min to 24 h, a thousands separator, a unit of no mass: refused by the forms;
        # if one gets through all the same, it counts as not read.
        ({"lockout": "30 s"}, ("reading-missing", "lockout")),
        ({"demand_dose": "1,000 mcg"}, ("reading-missing", "demand_dose")),
        ({"limit_amount": "2 mL"}, ("reading-missing", "limit.amount")),
        ({"mode": "sometimes"}, ("reading-missing", "mode")),
    ],
)
def test_a_value_that_the_engine_cannot_read_counts_as_not_read(
    one_ward: Ward, changes: dict[str, str], found: tuple[str, str]
) -> None:
    one_ward.opens().joins().both_read(answers(), answers(device=changes)).compares()

    assert found in codes(one_ward)
    assert one_ward.phase is Phase.DISPUTED


@pytest.mark.parametrize(
    ("at", "found"),
    [
        # In Dublin it is still that day.
        (datetime(2031, 5, 2, 22, 30, tzinfo=UTC), False),
        # There it is the next day; by UTC it is not.
        (datetime(2031, 5, 2, 23, 30, tzinfo=UTC), True),
    ],
)
def test_a_label_is_used_by_the_end_of_the_day_of_the_ward(
    one_ward: Ward,
    at: datetime,
    found: bool,  # noqa: FBT001  # expected
) -> None:
    one_ward.now = at
    one_ward.opens().joins().both_read(answers(label={"use_by": "2031-05-02"})).compares()

    assert ("label-expired" in one_ward.codes()) is found


def test_the_engines_the_charts_and_our_own_findings_stand_together_worst_first(one_ward: Ward) -> None:
    read = answers(
        chart={"allergy": "to-this-drug-or-its-family", "sedatives": "charted"},
        order={"carrier_fluid": "none", "carrier_rate": None},
        device={"demand_dose": "0.4 mg"},
    )
    one_ward.opens().joins().both_read(read).compares()
    found = one_ward.state().findings
    severities = [each.severity for each in found]

    assert {"device-differs", "allergy-charted", "patient-at-risk"} <= {each.code for each in found}
    assert ("device-differs", "carrier.fluid") in codes(one_ward)
    assert severities == sorted(severities, key=["stop", "caution", "note"].index)
    assert len({each.key for each in found}) == len(found)


@pytest.mark.parametrize(
    ("changes", "found"),
    [
        ({"chart": {"pharmacist": "not-yet"}}, "order-not-verified"),
        ({"monitor": {"capnography": "off", "high_etco2": "none", "apnea_time": "none"}}, "monitoring-off"),
    ],
)
def test_a_check_is_judged_by_the_policy_of_its_unit(
    one_ward: Ward, changes: dict[str, dict[str, str]], found: str
) -> None:
    read = answers(**changes)

    one_ward.opens(NADIA).joins(TOMAS).both_read(read).compares()
    assert found in one_ward.codes()
    one_ward.opens(INES).joins(RALPH).reads(INES, read).reads(RALPH, read).compares()
    assert one_ward.state().check.unit == RECOVERY
    assert found not in one_ward.codes()
    assert one_ward.loaded().policy.engine["capnography_required"] == "with-oxygen-or-at-risk"


def test_what_was_judged_by_a_units_own_policy_comes_to_the_same_when_judged_again(one_ward: Ward) -> None:
    read = answers(chart={"pharmacist": "not-yet"})
    one_ward.first, one_ward.second = INES, RALPH
    one_ward.opens().joins().both_read(read).compares().confirms_all().both_sign()

    assert one_ward.phase is Phase.CLEARED


def test_the_volumes_of_the_set_in_use_are_the_packs(one_ward: Ward) -> None:
    one_ward.at_stage(Phase.STEPS)
    kept = one_ward.loaded().last_comparison
    assert kept is not None
    assert kept.round == 1
    result = kept.told

    # 2.3 mL of 0.2 mg/mL in the set cost 0.46 mg (common practice, no source); 0.5 mL lie past the junction.
    assert result["math"]["A"]["device"]["primed_amount"]["shown"] == "0.46 mg"
    assert result["math"]["A"]["device"]["junction_bolus"]["shown"] == "0.1 mg"


def test_the_verdict_of_what_is_kept(one_ward: Ward) -> None:
    def verdict(phase: Phase) -> object:
        kept = one_ward.at_stage(phase).loaded().last_comparison
        assert kept is not None
        return kept.told["verdict"]

    assert [verdict(each) for each in (Phase.DISPUTED, Phase.AGREED, Phase.STEPS)] == [
        "stopped",
        "cautioned",
        "agreed",
    ]


def unsalted(found: Found) -> str:
    about = {each: getattr(found, each) for each in ("code", "field", "clinician", "says")}
    return finding_key(readings=found.readings, **about)


def test_no_key_in_the_log_can_be_found_by_trying_out_what_was_read(one_ward: Ward) -> None:
    one_ward.opens().joins().both_read(CAUTIONED).compares()
    found = one_ward.state().cautions[0]
    one_ward.acknowledges(NADIA, found.code)
    # Whoever has the log alone, and guesses every value right, still lacks the salt.
    guessed = unsalted(found)
    with one_ward.site.store.read() as reader:
        log = b"".join(each.canonical for each in reader.entries(one_ward.check))

    assert found.key.encode() in log
    assert guessed.encode() not in log
    kept = one_ward.loaded().last_comparison
    assert kept is not None
    assert salted([replace(found, key=guessed)], kept.told["salt"])[0].key == found.key


def test_a_finding_that_stays_is_known_again_in_the_next_round_of_its_check_alone(one_ward: Ward) -> None:
    keys = []
    for _ in range(2):
        one_ward.opens().joins().both_read(CAUTIONED).compares()
        first = {each.key for each in one_ward.state().cautions}
        one_ward.reads_again(NADIA, "device").both_read(CAUTIONED).compares()
        assert {each.key for each in one_ward.state().cautions} == first
        keys.append(first)

    assert not keys[0] & keys[1]


def test_a_check_compared_before_there_were_salts_goes_on_without(
    one_ward: Ward, monkeypatch: pytest.MonkeyPatch
) -> None:
    with monkeypatch.context() as then:
        then.setattr(comparing, "new_salt", lambda: b"")
        one_ward.opens().joins().both_read(CAUTIONED).compares()
    one_ward.acknowledges(NADIA, one_ward.state().cautions[0].code)
    one_ward.reads_again(NADIA, "device").both_read(CAUTIONED).compares()

    found = one_ward.state().cautions[0]
    assert found.key == unsalted(found)
    assert found not in one_ward.state().unacknowledged(FIRST)


def test_a_round_that_was_not_compared_has_no_result(one_ward: Ward) -> None:
    loaded = one_ward.at_stage(Phase.READING).loaded()

    assert (loaded.state.current is not None, loaded.last_comparison) == (True, None)
