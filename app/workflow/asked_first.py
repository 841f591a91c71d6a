"""What a site's policy asks of people before they take anything up at a patient: training, and a statement.

Stopping and pausing a device never wait for it.
"""

from dataclasses import dataclass
from datetime import date, datetime, timedelta
from zoneinfo import ZoneInfo

from app.base import Act, Method
from app.people import takes_up
from app.records import site_events
from app.records.kept_people import Acceptance, Training
from app.records.policy import Accountability, SitePolicy, TrainingRule
from app.records.rules import policy_of
from app.site.installation import Site
from app.storage import Reader
from app.workflow.queueing import one_at_a_time
from app.workflow.sessions import ABSOLUTE_LIFE, SHOWN

# How long a secret counts as just given: the statement is accepted where one has signed in with it.
JUST_GIVEN = timedelta(minutes=10)


@dataclass(frozen=True, kw_only=True)
class MissingTraining:
    """A training that is asked for: the last day of it that is recorded, if any, is too long ago."""

    topic: str
    last: date | None


@dataclass(frozen=True, kw_only=True)
class Unready:
    """What is still asked of somebody: trainings, and a statement to accept."""

    trainings: tuple[MissingTraining, ...]
    statement: Accountability | None


@dataclass(frozen=True)
class Accepted:
    """The statement is accepted, now or before."""


@dataclass(frozen=True)
class OtherStatement:
    """The statement that was shown is not the one in force: it is read again."""


@dataclass(frozen=True)
class SignInAnew:
    """The secret was not just given here: whoever accepts signs in anew."""


def find_unready(site: Site, now: datetime, person: str, policy: SitePolicy | None) -> Unready | None:
    """What is still asked of a person; nothing is read where the policy in force asks for nothing."""
    if policy is None or not _asks(policy):
        return None
    with site.store.read() as reader:
        return _unready_since(reader, now, person)


def has_something_first(site: Site, act: Act) -> bool:
    """Whether whoever has just signed in is to be told, to be seen or to do something before going on."""
    with site.store.read() as reader:
        found = reader.find_signed_in(act.by.person, unit=act.by.unit, since=act.now - SHOWN, at=act.now)
        if found is None or found.policy is None:
            return False
        if found.resets or found.refused or not found.person.key_confirmed:
            return True
        asks = _asks(policy_of(found.policy))
        return asks and _unready_since(reader, act.now, act.by.person) is not None


def unready_here(reader: Reader, now: datetime, person: str) -> Unready | None:
    """The same within an act."""
    policy = policy_here(reader, now)
    return _unready_since(reader, now, person) if policy is not None and _asks(policy) else None


def _unready_since(reader: Reader, now: datetime, person: str) -> Unready | None:
    """As it stood when the secret was given last: nobody is shut out in a shift."""
    began = reader.last_sign_in(person, since=now - ABSOLUTE_LIFE) or now
    policy = policy_here(reader, began)
    return _unready(reader, began, person, policy) if policy else None


def policy_here(reader: Reader, at: datetime) -> SitePolicy | None:
    """The site's policy in force; none where nothing was published."""
    content = reader.policy_in_force(at=at)
    return None if content is None else policy_of(content)


def _asks(policy: SitePolicy) -> bool:
    return policy.training is not None or policy.accountability is not None


def _unready(reader: Reader, at: datetime, person: str, policy: SitePolicy) -> Unready | None:
    trainings: tuple[MissingTraining, ...] = ()
    account = reader.find_person(person)
    if policy.training is not None and account is not None and takes_up(account.roles):
        day = at.astimezone(ZoneInfo(policy.zone)).date()
        trainings = _missing(reader.trainings_of(person), policy.training, day)
    statement = policy.accountability
    if statement is not None:
        accepted = {each.digest for each in reader.acceptances_of(person)}
        statement = None if statement.digest in accepted else statement
    return Unready(trainings=trainings, statement=statement) if trainings or statement else None


def _missing(had: tuple[Training, ...], asked: TrainingRule, on: date) -> tuple[MissingTraining, ...]:
    days = {topic: [each.day for each in had if each.topic == topic] for topic in asked.topics}
    last = {topic: max(of_topic, default=None) for topic, of_topic in days.items()}
    return tuple(
        MissingTraining(topic=topic, last=day)
        for topic, day in last.items()
        if day is None or on - day > asked.counts_for
    )


def accept_statement(site: Site, act: Act, *, digest: str) -> Accepted | OtherStatement | SignInAnew:
    """Accept the statement in force, where one has just signed in with the secret."""
    if act.by.method is not Method.SECRET or act.now - act.by.signed_in_at > JUST_GIVEN:
        return SignInAnew()
    with site.store.write() as tx:
        policy = policy_here(tx, act.now)
        statement = policy.accountability if policy else None
        if statement is None or statement.digest != digest:
            return tx.refuse(OtherStatement())
        one_at_a_time(tx, f"accepting {act.by.person}", act.now)
        if digest in {each.digest for each in tx.acceptances_of(act.by.person)}:
            return tx.refuse(Accepted())
        tx.add_acceptance(
            Acceptance(
                person=act.by.person,
                digest=digest,
                version=statement.version,
                accepted_at=act.now,
                session=act.by.session,
                device=act.by.device,
                signed_in_at=act.by.signed_in_at,
            )
        )
        tx.append(site_events.AccountabilityAccepted(version=statement.version, digest=digest), act=act)
    return Accepted()
