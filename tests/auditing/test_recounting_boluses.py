"""A bolus given by staff that was written down after the next syringe was started: SQL counts it alike."""

from datetime import timedelta
from fractions import Fraction

import pytest

from app.auditing.recounting import differing_accounts
from app.judging.account import balanced
from app.records.kinds import SYRINGE_CHANGE
from app.site.loading import account_of
from app.workflow import boluses
from tests.factories.answers import answers, changed
from tests.story.people import IMOGEN
from tests.story.ward import open_ward
from tests.workflow.test_boluses import ORDERED, WELL

IN_VOLUMES = {
    **dict.fromkeys(("amount", "volume")),
    "strength": "in-millilitres",
    "demand_dose": "1 mL",
    "limit_amount": "10 mL",
}


@pytest.mark.parametrize(
    ("device", "totals"),
    [({}, {"total_amount": "0.4 mg"}), (IN_VOLUMES, {"total_amount": "none", "total_volume": "2 mL"})],
)
def test_it_is_of_the_syringe_that_was_on(
    database_url: str, device: dict[str, str | None], totals: dict[str, str]
) -> None:
    read = answers(order=ORDERED, device=device)
    shown = {**totals, "presses": "2", "doses": "2", "left": "25.6 mL"}
    with open_ward(database_url) as ward:
        ward.opens().joins().both_read(read).compares().confirms_all().both_sign().both_look().starts()
        infusion = ward.wait(timedelta(minutes=30)).state().check.infusion
        looked = boluses.look_before(ward.site, ward.act(IMOGEN), infusion, WELL)
        assert looked == boluses.LookedWell()
        given_at = (ward.now + timedelta(minutes=1)).isoformat()
        ward.wait(timedelta(minutes=5)).changes(SYRINGE_CHANGE)
        second = ward.of_its_patient(changed(read, label={"lot": "LOT-8"}, totals=shown))
        ward.both_read(second).compares().primes("0.3 mL").confirms_all().both_sign().both_look().starts()
        given = boluses.give_bolus(ward.site, ward.act(IMOGEN), infusion, given_at=given_at)
        assert given == boluses.Given(calls=False)

        with ward.site.store.read() as reader:
            assert list(differing_accounts(reader, ward.now)) == []
            entries = account_of(reader, infusion).written()
            for counts, volume in ((True, 2), (False, 4)):
                asked = {"counts_bolus": counts, "counts_loading": True, "counts_prime": False}
                counted = reader.recounted([infusion], **asked)[infusion]
                folded = balanced(entries, {"totals_count_bolus": counts})["syringes"]
                assert [each.delivered_by_device for each in counted] == [Fraction(volume), Fraction(0)]
                given_by = [each["volume"]["delivered_by_device"]["exact"] for each in folded]
                assert given_by == [str(volume), "0"]
