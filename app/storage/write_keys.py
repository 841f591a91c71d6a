"""Adding keys and checkpoints; of all of it only the locked private half of a person's key ever changes."""

from sqlalchemy import and_, bindparam, delete, literal, or_, select, update

from app.records.checkpoint import Checkpoint
from app.records.kept_keys import (
    Authenticator,
    CodeTold,
    IssuedCode,
    KeptKey,
    KeptSiteKey,
    KeyConfirmation,
    KeyRetirement,
)
from app.storage import key_tables
from app.storage.writer import Writer

_HOLDER = select(key_tables.personal_key.c.person).where(key_tables.personal_key.c.kid == bindparam("kid"))


class KeyWriter(Writer):
    """Adds rows; each may raise ConstraintBroken with the name of the rule that refused it."""

    def add_issued_code(self, code: IssuedCode) -> None:
        """Somebody gave a person a one-time code."""
        self._add(key_tables.issued_code, code)

    def add_code_told(self, told: CodeTold) -> None:
        """Somebody has read of it."""
        self._add(key_tables.code_told, told)

    def add_key(self, key: KeptKey, *, sealed: bytes) -> None:
        """A person made a key: its public half, and the private one as it was locked."""
        self._touched[key.person] = None
        self._add(key_tables.personal_key, key)
        self._insert(key_tables.personal_key_sealed, {"kid": key.kid, "sealed": sealed})

    def set_sealed(self, kid: str, sealed: bytes) -> None:
        """The private half was locked anew, because its person's secret changed."""
        self._touch_holder(kid)
        table = key_tables.personal_key_sealed
        changed = self._connection.execute(update(table).where(table.c.kid == kid).values(sealed=sealed))
        if changed.rowcount != 1:
            raise LookupError(kid)

    def add_authenticator(self, authenticator: Authenticator) -> None:
        """A person enrolled what is given beside the secret."""
        self._touched[authenticator.person] = None
        self._add(key_tables.authenticator, authenticator)

    def remove_authenticators(self, person: str) -> int:
        """Take all of a person's away, and say how many they were."""
        self._touched[person] = None
        table = key_tables.authenticator
        return self._connection.execute(delete(table).where(table.c.person == person)).rowcount

    def use_authenticator(self, authenticator: str, *, until: int, sign_count: int) -> bool:
        """It was given once more; False where what was given has been used, or comes from before what was."""
        table = key_tables.authenticator
        counts = or_(table.c.sign_count < sign_count, and_(table.c.sign_count == 0, literal(sign_count) == 0))
        fresh = update(table).where(table.c.id == authenticator, table.c.used_until < until, counts)
        used = self._connection.execute(fresh.values(used_until=until, sign_count=sign_count))
        return used.rowcount == 1

    def confirm_key(self, confirmation: KeyConfirmation) -> None:
        """A colleague confirmed the key's person face to face."""
        self._add(key_tables.key_confirmation, confirmation)

    def retire_key(self, retirement: KeyRetirement) -> None:
        """The key signs nothing any more; its private half is thrown away."""
        self._touch_holder(retirement.kid)
        self._add(key_tables.key_retirement, retirement)
        table = key_tables.personal_key_sealed
        self._connection.execute(delete(table).where(table.c.kid == retirement.kid))

    def _touch_holder(self, kid: str) -> None:
        found = self._connection.scalar(_HOLDER, {"kid": kid})
        if found is not None:
            self._touched[found] = None

    def add_site_key(self, key: KeptSiteKey) -> None:
        """A key of the site came into use."""
        self._add(key_tables.site_key, key)

    def add_checkpoint(self, checkpoint: Checkpoint) -> None:
        """The site signed what its log is."""
        self._add(key_tables.checkpoint, checkpoint)

    def add_log_block(self, number: int, root: str) -> None:
        """The root over one more block of the log."""
        self._insert(key_tables.log_block, {"number": number, "root": root})
