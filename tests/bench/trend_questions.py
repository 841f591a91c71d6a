"""What each page of trends asks of a database, beside the plain count of the same findings."""

from collections.abc import Callable, Iterator
from datetime import timedelta
from functools import partial
from statistics import median

from sqlalchemy import Connection, func, select

from app.storage import Counted, Reader, Store
from app.storage.row_tables import ended_check, finding
from app.workflow.missed import MOST_ON_A_PAGE
from tests.support.tampering import as_database_administrator

# Times the plain count.
AIM = 4.0
MONTHS, TIMES = 24, 5

Clock = Callable[[], float]


def report_trends(store: Store, clock: Clock) -> bool:
    """Print what each page of the last two years takes; whether none passes the aim."""
    with as_database_administrator(store.address) as connection:
        last = connection.execute(select(func.max(ended_check.c.compared_at))).scalar_one()
        months = [last + timedelta(seconds=1) - timedelta(days=30 * each) for each in range(MONTHS, -1, -1)]
        counted = Counted(months=months, unit="")
        plain = _took(partial(_plain_count, connection, counted), clock)
    print(f"  plain count of the findings of {MONTHS} months {plain * 1000:.0f} ms")
    is_good = True
    with store.read() as reader:
        for name, questions in _asked(reader, counted):
            took = sum(_took(each, clock) for each in questions)
            is_good &= took <= AIM * plain
            print(f"  trend of {name:20} {took * 1000:5.0f} ms: {took / plain:.1f} times", flush=True)
    return is_good


def _took(question: Callable[[], object], clock: Clock) -> float:
    times = []
    for _ in range(TIMES):
        begun = clock()
        question()
        times.append(clock() - begun)
    return median(times)


def _plain_count(connection: Connection, counted: Counted) -> object:
    by = (finding.c.code, finding.c.severity)
    within = (ended_check.c.compared_at >= counted.months[0], ended_check.c.compared_at < counted.months[-1])
    joined = finding.join(ended_check, ended_check.c.check == finding.c.check)
    return connection.execute(
        select(*by, func.count()).select_from(joined).where(*within).group_by(*by)
    ).all()


def _asked(reader: Reader, counted: Counted) -> Iterator[tuple[str, list[Callable[[], object]]]]:
    """Of each page; how often a check was due is asked of the log."""
    pages: dict[str, tuple[Callable[[Counted], object], ...]] = {
        "findings": (reader.months_counted, reader.rare_stops),
        "codes": (reader.findings_counted,),
        "times": (reader.times_to_clearance, reader.times_to_settling),
        "independence": (reader.grades_counted,),
        "cautions": (reader.cautions_counted,),
        "checks done": (reader.kinds_counted,),
        "accounts": (reader.accounts_counted, reader.last_differences),
        "what both missed": (partial(reader.classified_errors, most=MOST_ON_A_PAGE), reader.classified_twice),
    }
    for name, questions in pages.items():
        yield name, [partial(each, counted) for each in questions]
