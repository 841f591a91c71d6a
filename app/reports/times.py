"""Times as a record shows them: in the site's zone, with its offset."""

from dataclasses import dataclass
from datetime import date, datetime
from zoneinfo import ZoneInfo


@dataclass(frozen=True, kw_only=True)
class Clock:
    """The site's zone and the day of the record, which is not said again with every time."""

    zone: ZoneInfo
    opened_at: datetime

    def full(self, at: str | datetime) -> str:
        """`2 May 2031, 14:10:07 (+02:00)`."""
        local = self._local(at)
        return f"{day(local)}, {local:%H:%M:%S} {_offset(local)}"

    def short(self, at: str | datetime) -> str:
        """`14:10:07`, with the day or the offset where it is not the record's."""
        local, usual = self._local(at), self._local(self.opened_at)
        said = f"{local:%H:%M:%S}"
        if local.utcoffset() != usual.utcoffset():
            said = f"{said} {_offset(local)}"
        return said if local.date() == usual.date() else f"{local.day} {local:%B} {said}"

    def minute(self, at: str | datetime) -> str:
        """`14:10`, with the day or the offset where it is not the record's."""
        local, usual = self._local(at), self._local(self.opened_at)
        said = f"{local:%H:%M}"
        if local.utcoffset() != usual.utcoffset():
            said = f"{said} {_offset(local)}"
        return said if local.date() == usual.date() else f"{local.day} {local:%B}, {said}"

    @property
    def note(self) -> str:
        """What a reader must know about every short time: `Times on 2 May 2031, Europe/Zurich (+02:00)`."""
        local = self._local(self.opened_at)
        return f"Times on {day(local)}, {self.zone.key} {_offset(local)}"

    def _local(self, at: str | datetime) -> datetime:
        moment = datetime.fromisoformat(at) if isinstance(at, str) else at
        return moment.astimezone(self.zone)


def day(at: date) -> str:
    """`2 May 2031`."""
    return f"{at.day} {at:%B %Y}"


def day_in_words(text: str) -> str:
    """A day or a moment as typed (ISO 8601) in words; anything else as it was typed."""
    try:
        moment = datetime.fromisoformat(text)
    except ValueError:
        return text
    if "T" not in text:
        return day(moment)
    return f"{day(moment)}, {moment:%H:%M} {_offset(moment)}".rstrip()


def _offset(at: datetime) -> str:
    offset = f"{at:%z}"
    return f"({offset[:3]}:{offset[3:5]})" if offset else ""
