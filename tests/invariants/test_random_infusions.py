"""Random infusions through the store: every kind of check and emergency, and crashes."""

import pytest
from hypothesis import HealthCheck, settings
from hypothesis.stateful import run_state_machine_as_test

from tests.invariants.random_infusion import Stored
from tests.support.sampling import examples


@pytest.mark.timeout(7200)
def test_the_account_is_what_truly_happened_through_every_kind_of_check_and_a_crash(
    database_url: str,
) -> None:
    class Here(Stored):
        address = database_url

    run_state_machine_as_test(
        Here,
        settings=settings(
            max_examples=examples(sample=1, whole=200),
            stateful_step_count=examples(sample=8, whole=12),
            suppress_health_check=list(HealthCheck),
        ),
    )
