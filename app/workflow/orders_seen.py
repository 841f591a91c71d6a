"""Orders of other systems as they came: for whoever reads records, and only of a check that has ended."""

from collections.abc import Iterable

from app.base import Act
from app.people import Permission, Role, may
from app.records.kept import SOURCES
from app.records.kept_orders import KeptOrder, OrderOnRecord
from app.records.visibility import may_see_messages
from app.site.installation import Site
from app.workflow.looking import Seen, note_access, see_check
from app.workflow.refusals import NotFound


def messages_of(seen: Seen, roles: Iterable[Role]) -> tuple[OrderOnRecord, ...]:
    """The orders that comparisons of a check name, where whoever looks may see how they came."""
    reads_records = may(roles, Permission.READ_RECORDS)
    if not may_see_messages(seen.loaded.state, seen.sight, reads_records=reads_records):
        return ()
    of_sources = (each for each in seen.loaded.comparisons if each.subject == SOURCES)
    named = [OrderOnRecord(**one) for each in of_sources for one in each.told.get("orders", ())]
    return tuple({each.id: each for each in named}.values())


def see_message(
    site: Site, act: Act, roles: Iterable[Role], *, check: str, order: str
) -> KeptOrder | NotFound:
    """One of them, byte for byte; the look is written down."""
    seen = see_check(site, act, check)
    if isinstance(seen, NotFound) or order not in {each.id for each in messages_of(seen, roles)}:
        return NotFound()
    with site.store.read() as reader:
        kept = reader.find_order_message(order)
    if kept is None:
        return NotFound()
    note_access(site, act, check, what="order as it came")
    return kept
