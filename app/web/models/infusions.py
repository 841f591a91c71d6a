"""An infusion as its page shows it: where, how far, since when, and what is in force if one may see that."""

from dataclasses import dataclass
from datetime import datetime

from app.web.models.comparison import device_rows
from app.web.models.lists import place
from app.web.models.readings import Row
from app.web.models.spine import spine_for
from app.workflow.infusions import InfusionSeen


@dataclass(frozen=True, kw_only=True)
class InfusionPage:
    """`check` put in force what stands in `rows`; where it is closed to whoever looks, there are none."""

    infusion: str
    place: str
    progress: str
    since: datetime
    runs: bool
    paused: bool
    waits: bool
    check: str
    rows: tuple[Row, ...]
    spine: int
    observe_at: datetime | None
    reminds: bool
    looked: bool
    stands_since: datetime | None


def infusion_page(seen: InfusionSeen) -> InfusionPage:
    """The page for whoever looks."""
    rows = device_rows(seen.in_force) if seen.in_force else ()
    return InfusionPage(
        observe_at=seen.observe_at,
        reminds=seen.reminds,
        looked=seen.looked,
        stands_since=seen.stands_since,
        infusion=seen.infusion,
        place=place(seen.unit, seen.bed),
        progress=seen.progress,
        since=seen.since,
        runs=seen.runs,
        paused=seen.paused,
        waits=seen.waits,
        check=seen.check,
        rows=rows,
        spine=spine_for(number for row in rows for number in row.numbers),
    )
