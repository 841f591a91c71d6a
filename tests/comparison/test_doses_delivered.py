"""Sentences that name a dose which nobody typed: what the device would really deliver."""

from tests.comparison.builders import result_of


def test_the_dose_in_whole_steps_of_a_stronger_syringe() -> None:
    """0.5 mg at 2 mg/mL is 0.25 mL; of steps of 0.1 mL the device delivers two: 0.2 mL, 0.4 mg."""
    changes: dict[str, object] = {
        "AB.all.amount": "100 mg",
        "AB.settings.demand_dose": "0.5 mg",
        "policy.smallest_volume_step": "0.1 mL",
    }
    [finding] = result_of(changes).findings
    assert finding.code == "dose-below-step"
    assert finding.says == (
        "A demand of 0.5 mg is 0.25 mL, and the device delivers whole steps of 0.1 mL. "
        "Really delivered: 0.4 mg."
    )
