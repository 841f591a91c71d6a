"""The story of a record to its end, and what the sweeper tells of it."""

from app.auditing.checkpointing import checkpoint_file
from app.keys import SiteKeys, list_site_keys, public_file
from app.records.checkpoint import CheckpointFile, file_content
from app.records.events import END_OF_THERAPY
from app.records.kept import KeptFollowed
from app.records.state import Phase
from app.records.what_followed import TO_CORRECT
from app.site.installation import usable_site_keys
from app.workflow.sweeping import Swept, sweep_once
from tests.factories.site_keys import site_keys
from tests.story.people import RUTH
from tests.story.ward import Ward


def sweeps(ward: Ward, *, last: Swept | None = None) -> Swept:
    """One sweep, of what happened and was due since the last one, if one is named."""
    after, since = (last.settled, last.settled_at) if last else (0, None)
    swept = sweep_once(ward.site, ward.wait().now, holder="one", after=after, since=since)
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


def handed_out(ward: Ward) -> tuple[bytes, bytes]:
    """What the site hands out to whoever verifies: its certificates and a checkpoint."""
    keys = usable_site_keys(ward.site, ward.now)
    assert isinstance(keys, SiteKeys)
    checkpoint = checkpoint_file(ward.site, keys, ward.wait().now)
    assert isinstance(checkpoint, CheckpointFile)
    return public_file(list_site_keys(site_keys())).encode(), file_content(checkpoint)
