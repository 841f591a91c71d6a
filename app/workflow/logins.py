"""The list of logins, when each was used, who was trained and accepted what."""

from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

from app.people import Person
from app.records.kept_people import Acceptance, Training
from app.site.installation import Site
from app.workflow.asked_first import policy_here


@dataclass(frozen=True, kw_only=True)
class Login:
    """One login; `unused` says that its person has not signed in for the site's time, or never did in it."""

    person: Person
    made_at: datetime | None
    used_at: datetime | None
    unused: bool
    trainings: tuple[Training, ...]
    acceptances: tuple[Acceptance, ...]


@dataclass(frozen=True, kw_only=True)
class Logins:
    """All of them by printed name, and the site's time; None where its policy says none."""

    listed: tuple[Login, ...]
    after: timedelta | None

    @property
    def unused(self) -> tuple[Login, ...]:
        """Those in use by their account, and by nobody."""
        return tuple(each for each in self.listed if each.unused)


def list_logins(site: Site, now: datetime) -> Logins:
    """Every login. One that was deactivated is not waited for."""
    with site.store.read() as reader:
        policy = policy_here(reader, now)
        people, trainings, acceptances = reader.people(), reader.trainings(), reader.acceptances()
        uses = {each.person: each for each in reader.last_uses()}
    after = policy.login_unused if policy else None
    return Logins(
        after=after,
        listed=tuple(
            Login(
                person=each,
                made_at=uses[each.id].made_at,
                used_at=uses[each.id].used_at,
                unused=each.active
                and after is not None
                and _is_longer_ago(uses[each.id].used_at or uses[each.id].made_at, now, after),
                trainings=tuple(one for one in trainings if one.person == each.id),
                acceptances=tuple(one for one in acceptances if one.person == each.id),
            )
            for each in people
        ),
    )


def _is_longer_ago(last: datetime | None, now: datetime, after: timedelta) -> bool:
    return last is None or now - last > after


def login_line(login: Login) -> dict[str, Any]:
    """What the list says of one login, for an audit: names and times, no secret and nothing clinical."""
    person = login.person
    return {
        "login": person.login,
        "staff_number": person.staff_number,
        "printed_name": person.printed_name,
        "unit": person.unit,
        "roles": sorted(person.roles),
        "active": person.active,
        "key_confirmed": person.key_confirmed,
        "made_at": _written(login.made_at),
        "last_signed_in_at": _written(login.used_at),
        "unused": login.unused,
        "training": [
            {
                "number": each.id,
                "topic": each.topic,
                "trained_on": each.trained_on,
                "recorded_by": each.recorded_by,
                "recorded_at": each.recorded_at.isoformat(),
            }
            for each in login.trainings
        ],
        "accepted": [
            {"version": each.version, "digest": each.digest, "accepted_at": each.accepted_at.isoformat()}
            for each in login.acceptances
        ],
    }


def _written(moment: datetime | None) -> str | None:
    return moment.isoformat() if moment else None
