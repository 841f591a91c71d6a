"""The totals of a device that runs are stamped with the moment at which they were read."""

from datetime import datetime, timedelta

import pytest

from app.records.sources import Source
from app.records.state import Phase
from app.workflow import reading
from tests.factories.answers import answers, changed
from tests.story.people import NADIA
from tests.story.ward import Ward

STAMP = "read_at"


@pytest.fixture
def re_check(one_ward: Ward) -> Ward:
    return one_ward.at_stage(Phase.STARTED).re_checks()


def kept(ward: Ward) -> dict[str, str]:
    desk = reading.open_desk(ward.site, ward.act(NADIA), ward.check)
    assert isinstance(desk, reading.Desk)
    return desk.answers[Source.TOTALS]


def test_they_are_stamped_when_they_are_kept_in_the_sites_zone(re_check: Ward) -> None:
    began = re_check.now
    re_check.drafts(NADIA, answers())
    stamp = datetime.fromisoformat(kept(re_check)[STAMP])

    assert began <= stamp <= re_check.now
    # British Summer Time, by the site that comes with the program.
    assert stamp.utcoffset() == timedelta(hours=1)
    assert kept(re_check) == {**answers()["totals"], STAMP: stamp.isoformat()}


def test_kept_again_as_they_stood_they_were_not_read_again(re_check: Ward) -> None:
    re_check.drafts(NADIA, answers())
    before = kept(re_check)
    re_check.wait().drafts(NADIA, answers())
    assert kept(re_check) == before

    re_check.wait().drafts(NADIA, changed(answers(), totals={"presses": "1"}))
    assert kept(re_check)[STAMP] > before[STAMP]


def test_nobody_writes_the_moment(re_check: Ward) -> None:
    re_check.drafts(NADIA, changed(answers(), totals={STAMP: "2031-01-01T00:00:00+00:00"}))

    assert kept(re_check)[STAMP].startswith("2031-05-02T")


def test_other_sources_have_no_such_moment(re_check: Ward) -> None:
    re_check.drafts(NADIA, answers())
    desk = reading.open_desk(re_check.site, re_check.act(NADIA), re_check.check)

    assert isinstance(desk, reading.Desk)
    assert [source for source, given in desk.answers.items() if STAMP in given] == [Source.TOTALS]
