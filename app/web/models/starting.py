"""The last look: the agreed values, beside the device, immediately before starting."""

from dataclasses import dataclass

from app.web.models.check import Head, Nurse, Until, head_of, until
from app.web.models.comparison import device_rows
from app.web.models.readings import Row
from app.web.models.spine import spine_for
from app.workflow.looking import Seen


@dataclass(frozen=True, kw_only=True)
class StartPage:
    """What each looks at, who has looked, and when the clearance lapses."""

    head: Head
    rows: tuple[Row, ...]
    spine: int
    nurse: Nurse
    other: Nurse
    looked: tuple[Nurse, ...]
    until: Until

    @property
    def has_looked(self) -> bool:
        """Whether this nurse has."""
        return self.nurse in self.looked

    @property
    def may_start(self) -> bool:
        """Whether both have."""
        return len(self.looked) == len(self.head.nurses)


def start_page(seen: Seen, slot: int) -> StartPage:
    """The page for one nurse's look at a cleared check."""
    state, head = seen.loaded.state, head_of(seen)
    rows = device_rows(seen.loaded)
    return StartPage(
        head=head,
        rows=rows,
        spine=spine_for(number for row in rows for number in row.numbers),
        nurse=head.nurse(slot),
        other=next(each for each in head.nurses if each.slot != slot),
        looked=tuple(each for each in head.nurses if each.slot in state.last_looks),
        until=until(state),
    )
