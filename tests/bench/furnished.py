"""A furnished installation with many findings, for what is measured beside them or of them."""

from collections.abc import Iterator
from contextlib import contextmanager
from datetime import date, timedelta

from app.site.installation import Site
from app.storage import migrate, open_store
from app.workflow.credentials import Signatory
from app.workflow.export_jobs import Asked, Job, add_job
from app.workflow.exporting import Span, Wanted, export_at_host
from tests.bench.many_findings import made, write
from tests.factories.site_keys import site_keys
from tests.support.tampering import as_database_administrator
from tests.support.world import KEY, START, World, furnish, make_world

# Behind every entry that the log of such an installation has.
FIRST_POSITION = 1_000_000
# A million findings are those of three years.
BEFORE = timedelta(days=1_100)
QUALITY = "q.lindqvist"


@contextmanager
def furnished_world(address: str) -> Iterator[World]:
    """An installation at an address."""
    migrate(address)
    store = open_store(address)
    furnish(Site(store=store, key=KEY, site_keys=site_keys()))
    yield make_world(store)
    store.close()


def fill_world(world: World, findings: int) -> None:
    """Write down so many that were found before its clock began."""
    with as_database_administrator(world.site.store.address) as connection:
        write(connection, made(findings, began=START - BEFORE), position=FIRST_POSITION)


def asked(world: World, *, first: date, last: date, deidentified: bool = False) -> Job:
    """A CSV export that somebody asked for and nobody makes yet."""
    who = Signatory(login=QUALITY, secret=world.secrets[QUALITY])
    wanted = Wanted(span=Span(first=first, last=last), form="csv", deidentified=deidentified)
    answer = export_at_host(world.site, world.clock(), who, wanted)
    assert isinstance(answer, Asked), answer
    world.clock.pass_(seconds=1)
    return add_job(world.site.exports, answer)
