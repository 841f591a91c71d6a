"""Findings that a third person classified: for the estimate of what both missed, and how far two agree."""

from dataclasses import dataclass

from sqlalchemy import ColumnElement, Connection, FromClause, and_, exists, func, select

from app.records.followup import Severity
from app.records.kept import SOURCES, KeptComparison
from app.records.kept_reviews import FIRST_PLACE, NO_ERROR, SECOND_PLACE
from app.storage import tables
from app.storage.read_trends import Counted, Tally, found_within
from app.storage.review_tables import finding_classified
from app.storage.row_tables import PLACE, finding


@dataclass(frozen=True, kw_only=True)
class ClassifiedError:
    """A finding of a first round that somebody called an error: its comparison, its field, who misread it."""

    kept: KeptComparison
    field: str
    readers: str


_FIRST, _SECOND = finding_classified.alias("first_said"), finding_classified.alias("second_said")


class MissedReader:
    """What was classified, of checks that have ended."""

    _connection: Connection

    def classified_errors(
        self, counted: Counted, most: int | None, *, classifier: str = ""
    ) -> tuple[ClassifiedError, ...]:
        """What stopped a first round and is an error by whoever classified it first; the newest first.

        To a classifier only of what two have classified, or this person did: by a count that grows by one
        whoever may still be the second would know what the first said.
        """
        kept = tables.comparison
        same_round = and_(*(kept.c[name] == finding.c[name] for name in ("check", "subject", "round")))
        asked = found_within(counted, select(kept, finding.c.field, _FIRST.c.readers))
        asked = (
            asked.join(_FIRST, _said_of(_FIRST, FIRST_PLACE))
            .join(kept, same_round)
            .where(
                finding.c.subject == SOURCES,
                finding.c.round == 1,
                finding.c.severity == Severity.STOP.value,
                _FIRST.c.category != NO_ERROR,
            )
            .order_by(finding.c.compared_at.desc(), finding.c.check.desc(), finding.c.number)
            .limit(most)
        )
        if classifier:
            by_two = exists().where(_said_of(_SECOND, SECOND_PLACE))
            asked = asked.where((_FIRST.c.person == classifier) | by_two)
        names = KeptComparison.__dataclass_fields__
        return tuple(
            ClassifiedError(
                kept=KeptComparison(**{name: row[name] for name in names}),
                field=row["field"],
                readers=row["readers"],
            )
            for row in self._connection.execute(asked).mappings()
        )

    def classified_twice(self, counted: Counted) -> tuple[Tally, ...]:
        """How often the first who classified said one category, and the second another or the same."""
        said = (_FIRST.c.category, _SECOND.c.category)
        asked = found_within(
            counted, select(said[0].label("what"), said[1].label("other"), func.count().label("count"))
        )
        asked = (
            asked.join(_FIRST, _said_of(_FIRST, FIRST_PLACE))
            .join(_SECOND, _said_of(_SECOND, SECOND_PLACE))
            .where(finding.c.subject == SOURCES)
        )
        return tuple(
            Tally(what=what, other=other, count=count)
            for what, other, count in self._connection.execute(asked.group_by(*said).order_by(*said))
        )


def _said_of(said: FromClause, place: int) -> ColumnElement[bool]:
    return and_(said.c.place == place, *(said.c[name] == finding.c[name] for name in PLACE))
