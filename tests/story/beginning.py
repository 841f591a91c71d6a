"""Where people begin to act: a site and what is known of it; and stages that were walked to before."""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime
from typing import Self

from app.base import Actor
from app.site.installation import Site
from tests.support.copies import keep_copy, put_copy


@dataclass(frozen=True, kw_only=True)
class _Begun:
    """A copy of the database at a stage, and all that was known beside it."""

    database: str
    now: datetime
    check: str
    bed: int
    ids: int
    signed_in: dict[str, Actor]


# By the engine of the database and the name of the stage.
_begun: dict[tuple[str, str], _Begun] = {}


class Beginning:
    """A site on one database, the time, the check at hand, and who is signed in."""

    def __init__(self, site: Site, address: str, now: datetime) -> None:
        self.site = site
        self.address = address
        self.now = now
        self.check = ""
        self.bed = 0
        self._ids = 0
        self._signed_in: dict[str, Actor] = {}
        self._began = self._whereabouts()

    def begins_at(self, stage: str, walk: Callable[[Self], object]) -> Self:
        """Walk to a stage; where nothing was done yet, go on from a copy of what was walked to before."""
        key = (self.address.partition(":")[0], stage)
        if not self.address or self._whereabouts() != self._began:
            walk(self)
        elif key in _begun:
            self._go_on_from(_begun[key])
        else:
            walk(self)
            _begun[key] = self._kept()
        return self

    def _whereabouts(self) -> tuple[int, datetime, int]:
        """What changes with whatever is done."""
        with self.site.store.read() as reader:
            return reader.head(), self.now, self._ids

    def _kept(self) -> _Begun:
        # A database is copied while nobody is connected to it.
        self.site.store.close()
        return _Begun(
            database=keep_copy(self.address),
            now=self.now,
            check=self.check,
            bed=self.bed,
            ids=self._ids,
            signed_in=dict(self._signed_in),
        )

    def _go_on_from(self, begun: _Begun) -> None:
        self.site.store.close()
        put_copy(begun.database, self.address)
        self.now, self.check, self.bed = begun.now, begun.check, begun.bed
        self._ids, self._signed_in = begun.ids, dict(begun.signed_in)
