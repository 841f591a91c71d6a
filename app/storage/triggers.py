"""Triggers: what a constraint cannot say, held by the database itself on both engines.

What a released migration has created stays as it is here: a rule that changes gets a new trigger in a new
migration.
"""

from collections.abc import Iterable
from dataclasses import dataclass

from sqlalchemy import Connection, text

from app.storage.account_rules import PERSON_RULES, UNIT_RULES
from app.storage.rule import Rule

SEEN_BY_A_COLLEAGUE = "seen_by_a_colleague"
"""After a reset nobody takes part before a colleague has seen them."""

_REFUSE = """
CREATE FUNCTION refuse_change() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    RAISE EXCEPTION USING
        ERRCODE = 'integrity_constraint_violation', MESSAGE = TG_ARGV[0], CONSTRAINT = TG_ARGV[0];
END $$
"""


# Both sides of the third-person rule meet on the infusion's row: at the same instant they would miss
# each other.
_LOCK_INFUSION = """
    PERFORM 1 FROM infusion WHERE id = (SELECT infusion FROM "check" WHERE id = NEW."check")
    FOR NO KEY UPDATE;
"""

_NEIGHBOUR = """(
    SELECT neighbour.id FROM "check" AS this
    JOIN "check" AS neighbour ON neighbour.infusion = this.infusion
        AND (neighbour.opened_at, neighbour.id) {before_or_after} (this.opened_at, this.id)
    WHERE this.id = NEW."check"
    ORDER BY neighbour.opened_at {order}, neighbour.id {order} LIMIT 1
)"""
_PREVIOUS_CHECK = _NEIGHBOUR.format(before_or_after="<", order="DESC")
_NEXT_CHECK = _NEIGHBOUR.format(before_or_after=">", order="ASC")

_HELPED = """EXISTS (
    SELECT 1 FROM help_taker WHERE help_taker.person = NEW.person
    AND (help_taker."check" = NEW."check" OR help_taker."check" = {check})
)"""
_TAKES_PART = """EXISTS (
    SELECT 1 FROM participant WHERE participant.person = NEW.person
    AND (participant."check" = NEW."check" OR participant."check" = {check})
)"""

# Those of the first migration.
FIRST_RULES = (
    *PERSON_RULES,
    Rule(
        name="participant_is_not_the_third_person",
        table="participant",
        when="INSERT",
        says="third_person",
        lock=_LOCK_INFUSION,
        condition=_HELPED.format(check=_PREVIOUS_CHECK),
    ),
    Rule(
        name="help_taker_is_a_third_person",
        table="help_taker",
        when="INSERT",
        says="third_person",
        lock=_LOCK_INFUSION,
        condition=_TAKES_PART.format(check=_NEXT_CHECK),
    ),
    Rule(
        name="comparison_needs_both_readings",
        table="comparison",
        when="INSERT",
        says="comparison_needs_both_readings",
        condition=(
            '(SELECT count(*) FROM reading WHERE reading."check" = NEW."check" '
            "AND reading.subject = NEW.subject AND (NEW.subject = 'priming' OR reading.round = NEW.round)) "
            # Who primed reads the volume alone; it is judged anew whenever the sources are.
            "< CASE NEW.subject WHEN 'priming' THEN 1 ELSE 2 END"
        ),
    ),
    Rule(
        name="pdf_needs_two_signatures",
        table="pdf",
        when="INSERT",
        says="pdf_needs_two_signatures",
        condition=(
            '(SELECT count(*) FROM signature WHERE signature."check" = NEW."check" '
            "AND signature.edition = NEW.edition) <> 2"
        ),
    ),
    Rule(
        name="log_head_goes_up_by_one",
        table="log_head",
        when="UPDATE",
        says="log_head_goes_up_by_one",
        # And only when the entry of the place before is there: otherwise a place would stay empty.
        condition=(
            "NEW.id <> OLD.id OR NEW.size <> OLD.size + 1 OR (OLD.size > 0 AND NOT EXISTS "
            "(SELECT 1 FROM log_entry WHERE log_entry.position = OLD.size))"
        ),
    ),
    Rule(
        name="log_has_no_gap",
        table="log_entry",
        when="INSERT",
        says="log_has_no_gap",
        condition="NEW.position <> (SELECT size FROM log_head)",
    ),
)

_LIVE = "NOT EXISTS (SELECT 1 FROM key_retirement WHERE key_retirement.kid = personal_key.kid)"
_HAS_LIVE_KEY = f"EXISTS (SELECT 1 FROM personal_key WHERE person = NEW.person AND {_LIVE})"  # noqa: S608
_OWN_KEY = f"""EXISTS (
    SELECT 1 FROM personal_key JOIN key_confirmation ON key_confirmation.kid = personal_key.kid
    WHERE personal_key.kid = NEW.kid AND personal_key.person = NEW.person AND {_LIVE}
)"""  # noqa: S608  # text of this file alone

# Since the login was made or reset no colleague has seen this person: no key in use is confirmed.
_NOT_SEEN = (
    "EXISTS (SELECT 1 FROM issued_code WHERE issued_code.person = NEW.person) AND NOT EXISTS "  # noqa: S608
    "(SELECT 1 FROM personal_key JOIN key_confirmation ON key_confirmation.kid = personal_key.kid "
    f"WHERE personal_key.person = NEW.person AND {_LIVE})"
)

# Somebody known, and not whoever wrote it down; or nobody, where that is what is written.
_NO_WITNESS = """CASE WHEN NEW.kind = 'drug-taken-back'
    AND coalesce({why}, '') || ' ' || coalesce({witness}, '?') <> 'nobody '
    THEN coalesce((SELECT id FROM person WHERE id = {witness}), NEW."by") = NEW."by" ELSE 1 = 0 END"""

# Those of the second: keys of people and of the site, what stands about people and units, and checkpoints.
KEY_RULES = (
    *UNIT_RULES,
    Rule(
        name="participant_was_seen_by_a_colleague",
        table="participant",
        when="INSERT",
        says=SEEN_BY_A_COLLEAGUE,
        condition=_NOT_SEEN,
    ),
    Rule(
        name="reader_was_seen_by_a_colleague",
        table="reading",
        when="INSERT",
        says=SEEN_BY_A_COLLEAGUE,
        condition=_NOT_SEEN,
    ),
    Rule(
        name="personal_key_is_the_only_live_one",
        table="personal_key",
        when="INSERT",
        says="one_live_key_a_person",
        # Two made at the same instant would not see each other.
        lock="PERFORM 1 FROM person WHERE id = NEW.person FOR NO KEY UPDATE;",
        condition=_HAS_LIVE_KEY,
    ),
    Rule(
        name="key_is_confirmed_by_a_second_person",
        table="key_confirmation",
        when="INSERT",
        says="confirmed_by_a_second_person",
        condition=(
            "EXISTS (SELECT 1 FROM personal_key WHERE kid = NEW.kid AND NEW.confirmed_by IN (person, issuer))"
        ),
    ),
    Rule(
        name="key_is_confirmed_with_one_confirmed_before",
        table="key_confirmation",
        when="INSERT",
        says="confirmed_with_a_confirmed_key",
        # Two that found at the same instant would not see each other.
        lock="PERFORM 1 FROM log_head FOR UPDATE;",
        # While no confirmed key is in use, two people may found.
        condition=(
            "NOT EXISTS (SELECT 1 FROM key_confirmation WHERE kid = NEW.confirmer_kid) "
            "AND EXISTS (SELECT 1 FROM key_confirmation AS given WHERE NOT EXISTS "
            "(SELECT 1 FROM key_retirement WHERE key_retirement.kid = given.kid))"
        ),
    ),
    Rule(
        name="retired_key_is_not_confirmed",
        table="key_confirmation",
        when="INSERT",
        says="retired_key_is_not_confirmed",
        condition="EXISTS (SELECT 1 FROM key_retirement WHERE kid IN (NEW.kid, NEW.confirmer_kid))",
    ),
    Rule(
        name="retired_key_stays_closed",
        table="personal_key_sealed",
        when="INSERT",
        says="retired_key_stays_closed",
        condition="EXISTS (SELECT 1 FROM key_retirement WHERE kid = NEW.kid)",
    ),
    Rule(
        name="signature_is_by_the_signer_s_confirmed_key",
        table="signature",
        when="INSERT",
        says="signed_with_own_confirmed_key",
        condition=f"NEW.jws = '' OR NOT {_OWN_KEY}",
    ),
    Rule(
        name="signature_is_not_by_six_digits",
        table="signature",
        when="INSERT",
        says="signed_with_id_and_secret",
        # Where the secret was given on such a screen, the session's name says by whom, and is another one.
        condition=(
            "EXISTS (SELECT 1 FROM session WHERE session.digest = NEW.session AND session.method = 'pin')"
        ),
    ),
    Rule(
        name="witness_is_a_second_person",
        table="log_entry",
        when="INSERT",
        says="witnessed_by_a_second_person",
        condition=_NO_WITNESS.format(
            witness="json_extract(CAST(NEW.canonical AS TEXT), '$.data.witness')",
            why="json_extract(CAST(NEW.canonical AS TEXT), '$.data.not_witnessed')",
        ),
        in_postgresql=_NO_WITNESS.format(
            witness="convert_from(NEW.canonical, 'UTF8')::jsonb #>> '{data,witness}'",
            why="convert_from(NEW.canonical, 'UTF8')::jsonb #>> '{data,not_witnessed}'",
        ),
    ),
    Rule(
        name="training_is_recorded_by_somebody_else",
        table="training",
        when="INSERT",
        says="nobody_records_their_own_training",
        condition="NEW.recorded_by = NEW.person",
    ),
    Rule(
        name="statement_is_accepted_in_one_s_own_sign_in",
        table="acceptance",
        when="INSERT",
        says="accepted_with_one_s_own_secret",
        # The secret was just given: by this person, at this screen, and not six digits.
        condition=(
            "NOT EXISTS (SELECT 1 FROM session WHERE session.digest = NEW.session "
            "AND session.person = NEW.person AND session.device = NEW.device "
            "AND session.signed_in_at = NEW.signed_in_at AND session.method = 'secret')"
        ),
    ),
    Rule(
        name="checkpoint_is_larger_than_the_last",
        table="checkpoint",
        when="INSERT",
        says="checkpoints_only_grow",
        # One after the other, also when two are made at the same instant.
        lock="PERFORM 1 FROM log_head FOR UPDATE;",
        condition="NEW.size <= (SELECT max(size) FROM checkpoint)",
    ),
    Rule(
        name="checkpoint_is_of_this_log",
        table="checkpoint",
        when="INSERT",
        says="checkpoint_is_of_this_log",
        condition="NEW.size > (SELECT size FROM log_head)",
    ),
)

# That of the third.
REVIEW_RULES = (
    Rule(
        name="classifier_is_a_third_person",
        table="finding_classified",
        when="INSERT",
        says="classified_by_a_third_person",
        condition=(
            'EXISTS (SELECT 1 FROM participant WHERE participant."check" = NEW."check" '
            "AND participant.person = NEW.person) OR EXISTS (SELECT 1 FROM help_taker "
            'WHERE help_taker."check" = NEW."check" AND help_taker.person = NEW.person)'
        ),
    ),
)

RULES = (*FIRST_RULES, *KEY_RULES, *REVIEW_RULES)

# Tables whose rows may change but never go.
NEVER_DELETED = ("person", "log_head")


@dataclass(frozen=True, kw_only=True)
class Refusal:
    """Triggers that refuse every statement of some kinds on one table."""

    table: str
    says: str
    kinds: tuple[str, ...]

    def _name(self, kind: str) -> str:
        return f"{self.table}_refuses_{kind.lower()}"

    def names(self, dialect: str) -> list[str]:
        """What the triggers are called; SQLite has no TRUNCATE."""
        return [self._name(kind) for kind in self.kinds if dialect == "postgresql" or kind != "TRUNCATE"]

    def sqlite(self) -> list[str]:
        """The statements that make them on SQLite."""
        return [
            f'CREATE TRIGGER {self._name(kind)} BEFORE {kind} ON "{self.table}" '
            f"BEGIN SELECT RAISE(ABORT, '{self.says}'); END"
            for kind in self.kinds
            if kind != "TRUNCATE"
        ]

    def postgresql(self) -> list[str]:
        """The statements that make them on PostgreSQL; a TRUNCATE passes every trigger on rows."""
        return [
            f'CREATE TRIGGER {self._name(kind)} BEFORE {kind} ON "{self.table}" '
            f"FOR EACH {'STATEMENT' if kind == 'TRUNCATE' else 'ROW'} "
            f"EXECUTE FUNCTION refuse_change('{self.says}')"
            for kind in self.kinds
        ]


def append_only(table: str) -> Refusal:
    """Rows of the table are never changed and never go."""
    return Refusal(table=table, says=f"{table}_is_append_only", kinds=("UPDATE", "DELETE", "TRUNCATE"))


def never_deleted(table: str) -> Refusal:
    """Rows of the table may change and never go."""
    return Refusal(table=table, says=f"{table}_is_never_deleted", kinds=("DELETE", "TRUNCATE"))


def create(connection: Connection, triggers: Iterable[Rule | Refusal]) -> None:
    """Make them in the dialect of the connection."""
    sqlite = connection.dialect.name == "sqlite"
    for trigger in triggers:
        for statement in trigger.sqlite() if sqlite else trigger.postgresql():
            connection.execute(text(statement))


def create_refusing_function(connection: Connection) -> None:
    """PostgreSQL keeps what a trigger does in a function; SQLite needs none."""
    if connection.dialect.name == "postgresql":
        connection.execute(text(_REFUSE))


def drop(connection: Connection, rules: Iterable[Rule]) -> None:
    """Remove rules from tables that stay."""
    for rule in rules:
        on_table = f' ON "{rule.table}"' if connection.dialect.name == "postgresql" else ""
        connection.execute(text(f"DROP TRIGGER {rule.name}{on_table}"))


def drop_functions(connection: Connection, names: Iterable[str]) -> None:
    """Remove the functions that triggers left beside the tables on PostgreSQL."""
    if connection.dialect.name == "postgresql":
        for name in names:
            connection.execute(text(f"DROP FUNCTION {name}()"))
