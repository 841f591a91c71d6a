"""What did not add up by syringe, with the people of the checks: for the controlled-drug officer alone."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from app.base import Act
from app.people import Permission, Role, may
from app.records.kept_rows import EndedRow
from app.site.installation import Site
from app.storage import AccountsWanted, InvolvedCheck
from app.workflow.loading import viewer_of
from app.workflow.looking import note_access
from app.workflow.refusals import NotAllowed

PAGE = 20


@dataclass(frozen=True, kw_only=True)
class AccountApart:
    """An infusion whose account was not agreed: its last check with one, the account, and who read when."""

    row: EndedRow
    account: Mapping[str, Any]
    involved: Sequence[InvolvedCheck]


@dataclass(frozen=True, kw_only=True)
class AccountsApart:
    """One page, with the names of people by id, and where the next begins."""

    accounts: tuple[AccountApart, ...]
    people: Mapping[str, str]
    next_after: tuple[datetime, str] | None


def accounts_apart(
    site: Site, act: Act, roles: frozenset[Role], *, after: tuple[datetime, str] | None
) -> AccountsApart | NotAllowed:
    """One page of every unit's; the look at each is written down."""
    if not may(roles, Permission.SYRINGES):
        return NotAllowed()
    with site.store.read() as reader:
        viewer = viewer_of(reader, act.by, roles, act.now)
        wanted = AccountsWanted(
            after=after, hidden_at=viewer.blind_at, hidden_on=viewer.blind_on, limit=PAGE + 1
        )
        found = reader.accounts_apart(wanted)
        rows = found[:PAGE]
        # The last round of each check stays.
        last = {each.check: each for each in reader.comparisons_of_checks([row.check for row in rows])}
        involved = reader.people_of_infusions([row.infusion for row in rows])
        people = reader.people_with({each.person for each in involved})
    note_access(site, act, *(row.check for row in rows), what="syringes")
    return AccountsApart(
        accounts=tuple(
            AccountApart(
                row=row,
                account=last[row.check].told["account"]["result"],
                involved=[each for each in involved if each.infusion == row.infusion],
            )
            for row in rows
        ),
        people={who: each.printed_name for who, each in people.items()},
        next_after=(rows[-1].ended_at, rows[-1].check) if len(found) > PAGE else None,
    )
