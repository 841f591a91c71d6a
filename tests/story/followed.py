"""The story of a record to its end, and what the sweeper tells of it."""

from app.records.events import END_OF_THERAPY
from app.records.kept import KeptFollowed
from app.records.state import Phase
from app.records.what_followed import TO_CORRECT
from app.workflow.sweeping import Swept, sweep_once
from tests.story.people import RUTH
from tests.story.ward import Ward


def sweeps(ward: Ward, *, after: int = 0) -> Swept:
    swept = sweep_once(ward.site, ward.wait().now, holder="one", after=after)
    assert swept is not None
    return swept


def followed(ward: Ward) -> tuple[KeptFollowed, ...]:
    with ward.site.store.read() as reader:
        return reader.followed(ward.check)


def ends(ward: Ward) -> Ward:
    """Started, stopped for a while, and stopped for good an hour ago."""
    ward.at_stage(Phase.STARTED).stops(RUTH, why="line-or-site").stops(why=END_OF_THERAPY)
    ward.wait(TO_CORRECT)
    return ward
