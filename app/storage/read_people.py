"""Reading what stands about people beside their accounts: training, what they accepted, when they came."""

from datetime import datetime

from sqlalchemy import Connection, bindparam, func, select

from app.base import Method
from app.records.events import SecurityNoted
from app.records.kept import Entry
from app.records.kept_people import Acceptance, KeptCompetency, LastUse, RefusedSignings, Training
from app.records.rules import POLICY
from app.records.training_events import CompetencyReviewed
from app.storage import key_tables, people_tables, rows, tables
from app.storage.columns import UtcTime
from app.storage.resets import refused_to_tell
from app.storage.rows import find_one, read_all, rows_by

_TRAINING, _WITHDRAWN = people_tables.training, people_tables.training_withdrawal
_COUNTS = ~select(_WITHDRAWN.c.training).where(_WITHDRAWN.c.training == _TRAINING.c.id).exists()
_ALL_TRAINING = (
    select(_TRAINING).where(_COUNTS).order_by(_TRAINING.c.person, _TRAINING.c.trained_on, _TRAINING.c.id)
)
_TRAINING_OF = _ALL_TRAINING.where(_TRAINING.c.person == bindparam("person"))
_FIND_TRAINING = rows_by(_TRAINING, "id").where(_COUNTS)
_ACCEPTANCE = people_tables.acceptance
_ACCEPTED = rows_by(_ACCEPTANCE, "person").order_by(_ACCEPTANCE.c.accepted_at)
_ALL_ACCEPTED = select(_ACCEPTANCE).order_by(_ACCEPTANCE.c.person, _ACCEPTANCE.c.accepted_at)
_REFUSED = people_tables.refused_signings
_LAST_REFUSED = select(func.max(_REFUSED.c.at)).where(
    func.coalesce(_REFUSED.c.person, "") == bindparam("person")
)
_REFUSED_TO_TELL = refused_to_tell(person=bindparam("person"), unit=bindparam("unit")).order_by(
    _REFUSED.c.at, _REFUSED.c.id
)
_FILE = people_tables.competency_file
_FILE_OF = rows_by(_FILE, "record", "edition")
_REVIEWED = (
    select(tables.log_entry)
    .where(
        tables.log_entry.c.kind == CompetencyReviewed.kind,
        tables.log_entry.c.position > bindparam("after"),
    )
    .order_by(tables.log_entry.c.position)
)
_LOG, _PERSON, _SESSION = tables.log_entry, tables.person, tables.session
_CODE, _KEY = key_tables.issued_code, key_tables.personal_key
_SECURITY = (
    select(_LOG)
    .where(_LOG.c.kind == SecurityNoted.kind, _LOG.c.at > bindparam("since", type_=UtcTime()))
    .order_by(_LOG.c.position)
)
_USED = select(func.max(_SESSION.c.signed_in_at)).where(_SESSION.c.person == _PERSON.c.id)
# By the first code for it; people of a demonstration were given none, and have a key.
_CODED = select(func.min(_CODE.c.issued_at)).where(_CODE.c.person == _PERSON.c.id)
_KEYED = select(func.min(_KEY.c.made_at)).where(_KEY.c.person == _PERSON.c.id)
_MADE = func.coalesce(_CODED.scalar_subquery(), _KEYED.scalar_subquery(), type_=UtcTime)
_LAST_USES = select(
    _PERSON.c.id.label("person"),
    _USED.scalar_subquery().label("used_at"),
    _MADE.label("made_at"),
)
_SECRET_GIVEN = select(func.max(_SESSION.c.signed_in_at)).where(
    _SESSION.c.person == bindparam("person"),
    _SESSION.c.signed_in_at >= bindparam("since", type_=UtcTime()),
    _SESSION.c.method == Method.SECRET.value,
)
_DATA = tables.site_data
# Asked with every page, so that nothing more is asked where the policy asks for nothing.
POLICY_IN_FORCE = (
    select(_DATA.c.content)
    .where(_DATA.c.what == POLICY, _DATA.c.in_force_from <= bindparam("at", type_=UtcTime()))
    .order_by(_DATA.c.number.desc())
    .limit(1)
)


class PeopleReader:
    """People beyond their accounts."""

    _connection: Connection

    def trainings_of(self, person: str) -> tuple[Training, ...]:
        """What a person was trained in and counts, the first day first."""
        return read_all(self._connection, Training, _TRAINING_OF, person=person)

    def trainings(self) -> tuple[Training, ...]:
        """The same of everybody."""
        return read_all(self._connection, Training, _ALL_TRAINING)

    def find_training(self, training: str) -> Training | None:
        """One that counts."""
        return find_one(self._connection, Training, _FIND_TRAINING, id=training)

    def acceptances_of(self, person: str) -> tuple[Acceptance, ...]:
        """The statements that a person accepted, the first first."""
        return read_all(self._connection, Acceptance, _ACCEPTED, person=person)

    def acceptances(self) -> tuple[Acceptance, ...]:
        """The same of everybody."""
        return read_all(self._connection, Acceptance, _ALL_ACCEPTED)

    def last_uses(self) -> tuple[LastUse, ...]:
        """When each person last signed in, and when the login was made."""
        return read_all(self._connection, LastUse, _LAST_USES)

    def last_sign_in(self, person: str, *, since: datetime) -> datetime | None:
        """When a person last signed in with id and secret, if not before a moment."""
        found: datetime | None = self._connection.scalar(_SECRET_GIVEN, {"person": person, "since": since})
        return found

    def security_notes(self, *, since: datetime) -> tuple[Entry, ...]:
        """What was noted of signing in and signing after a moment."""
        return rows.entries(self._connection, _SECURITY, since=since)

    def last_refused(self, person: str) -> datetime | None:
        """When refused signings with this person's id were last counted up; empty: with nobody's."""
        found: datetime | None = self._connection.scalar(_LAST_REFUSED, {"person": person})
        return found

    def refused_to_tell(self, person: str, *, unit: str, since: datetime) -> tuple[RefusedSignings, ...]:
        """Refused signings of which somebody is still to be told, the first first."""
        return read_all(
            self._connection, RefusedSignings, _REFUSED_TO_TELL, person=person, unit=unit, since=since
        )

    def policy_in_force(self, *, at: datetime) -> bytes | None:
        """The content of the policy in force at a moment."""
        return self._connection.scalar(POLICY_IN_FORCE, {"at": at})

    def find_competency_file(self, record: str, edition: int) -> KeptCompetency | None:
        """The sealed PDF of a record of checks on training cards."""
        return find_one(self._connection, KeptCompetency, _FILE_OF, record=record, edition=edition)

    def unsealed_competencies(self, *, after: int) -> tuple[tuple[str, int], ...]:
        """Records of checks on training cards that both signed after a position and that have no PDF yet."""
        told = (each.event for each in rows.entries(self._connection, _REVIEWED, after=after))
        signed = [(each.record, each.edition) for each in told if isinstance(each, CompetencyReviewed)]
        return tuple(each for each in signed if self.find_competency_file(*each) is None)
