"""One rule that a trigger holds: what a constraint cannot say, in the words of both engines."""

from dataclasses import dataclass

_REFUSE_WHEN = """
CREATE FUNCTION {name}() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    {first}
    IF ({condition}) THEN
        RAISE EXCEPTION USING
            ERRCODE = 'integrity_constraint_violation', MESSAGE = '{says}', CONSTRAINT = '{says}';
    END IF;
    RETURN NEW;
END $$
"""


@dataclass(frozen=True, kw_only=True)
class Rule:
    """A trigger that refuses a new or changed row when `condition` is true, under the name in `says`."""

    name: str
    table: str
    when: str
    says: str
    condition: str
    # Where PostgreSQL says the same in other words.
    in_postgresql: str = ""
    # Run first on PostgreSQL only: SQLite has one writer at a time anyway.
    lock: str = ""

    def sqlite(self) -> list[str]:
        """The statements that make it on SQLite."""
        trigger = f'CREATE TRIGGER {self.name} BEFORE {self.when} ON "{self.table}" WHEN {self.condition}'
        return [f"{trigger} BEGIN SELECT RAISE(ABORT, '{self.says}'); END"]

    def postgresql(self) -> list[str]:
        """The statements that make it on PostgreSQL."""
        function = _REFUSE_WHEN.format(
            name=self.name,
            first=self.lock,
            condition=self.in_postgresql or self.condition,
            says=self.says,
        )
        trigger = f'CREATE TRIGGER {self.name} BEFORE {self.when} ON "{self.table}"'
        return [function, f"{trigger} FOR EACH ROW EXECUTE FUNCTION {self.name}()"]
