"""What is known of an infusion as its page shows it: what is due, what happened, where it went."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime

from app.records.timeline import NAMING, STATED, Moment
from app.records.written import as_data
from app.reports.times import day_in_words
from app.site.lasting import AccountRead, NotComputed
from app.web.models.infusion_account import LastingShown, Statement, lasting_shown, statement_of
from app.web.models.issuing import OutShown, out_shown
from app.web.models.lists import ToDo, to_do
from app.words.names import listed
from app.words.screens import kind_words
from app.words.timeline import account_words, shown_words
from app.workflow.infusion_told import InfusionTold

# Rows of the time line that are not folded.
_AT_ONCE = 30


@dataclass(frozen=True, kw_only=True)
class MomentShown:
    """One row of the time line: when, what, by whom, and what the account has of it.

    `check` is the check whose page says more; `kind` what kind of check it is.
    """

    at: datetime
    says: str
    details: tuple[str, ...]
    by: str
    check: str
    kind: str


@dataclass(frozen=True, kw_only=True)
class CoverShown:
    """Who covers a break, until when, and whether it is longer than the site allows."""

    by: str
    until: datetime
    overdue: bool


@dataclass(frozen=True, kw_only=True)
class ToldPage:
    """What is known of an infusion; without an account there is no `lasting` either.

    `is_not_computed`: no account can be made of what was written.
    What happened is shown at once as far as a shift or two go back, and what was `earlier` folded.
    `is_closed`: both have signed its end, or it was never started. `out` are the syringes that were issued,
    and are neither put on nor given back. `cover` is of a break of whoever answers for it.
    """

    responsible: str
    due: tuple[ToDo, ...]
    lasting: LastingShown | None
    account: Statement | None
    is_not_computed: bool
    moments: tuple[MomentShown, ...]
    earlier: tuple[MomentShown, ...]
    is_closed: bool
    out: tuple[OutShown, ...]
    cover: CoverShown | None


def told_page(told: InfusionTold, now: datetime) -> ToldPage:
    """The page for whoever may see all of it."""
    shown = tuple(_moments(told))
    return ToldPage(
        responsible=told.names.get(told.responsible, ""),
        due=to_do(told.due),
        lasting=lasting_shown(told.lasting, now) if told.lasting else None,
        account=statement_of(told.account) if isinstance(told.account, AccountRead) else None,
        is_not_computed=isinstance(told.account, NotComputed),
        moments=shown[:_AT_ONCE],
        earlier=shown[_AT_ONCE:],
        is_closed=told.is_closed,
        out=tuple(out_shown(each) for each in told.out),
        cover=_cover(told, now),
    )


def _cover(told: InfusionTold, now: datetime) -> CoverShown | None:
    if told.cover is None:
        return None
    by = told.names.get(told.cover.covers, "")
    return CoverShown(by=by, until=told.cover.until, overdue=told.cover.is_overdue(now))


def _moments(told: InfusionTold) -> Iterator[MomentShown]:
    for each in told.told:
        says = shown_words(each.event.kind, _in_words(each, told))
        details = tuple(filter(None, (account_words(entry.data) for entry in each.entries)))
        if says or details:
            yield MomentShown(
                at=each.at,
                says=says,
                details=details,
                by=listed([told.names.get(who, who) for who in each.people if who])
                if any(each.people)
                else "",
                check=each.check,
                kind=kind_words(each.check_kind) if each.check_kind else "",
            )


def _in_words(moment: Moment, told: InfusionTold) -> dict[str, object]:
    """The event's own fields, people by name and stated times in words."""
    data = as_data(moment.event)
    return {
        **data,
        **{each: day_in_words(data[each]) for each in STATED if each in data},
        **{each: told.names.get(data[each], "") for each in NAMING if each in data},
    }
