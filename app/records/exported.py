"""One ended check as it is exported: its flat rows, and the record that both signed."""

from collections.abc import Mapping
from dataclasses import asdict, dataclass
from datetime import datetime
from typing import Any

from app.records.formats import ENDED_CHECK
from app.records.kept_rows import EndedRow, FindingRow, SettledRow, place_of

# Of a finding what stands with its check already.
_OF_CHECK = {"check", "infusion", "unit", "bed", "kind", "drug", "pseudonym_a", "pseudonym_b"}


@dataclass(frozen=True, kw_only=True)
class Ended:
    """One check that has ended; `record` and `followed` are empty where both did not sign one."""

    row: EndedRow
    findings: tuple[FindingRow, ...]
    settled: tuple[SettledRow, ...]
    record: bytes
    followed: bytes
    followed_digest: str

    def document(self) -> dict[str, Any]:
        """The rows as one JSON document."""
        settled = {place_of(each): each for each in self.settled}
        return {
            "format": ENDED_CHECK.newest,
            **_told(asdict(self.row) | {"record_format": self.row.format}, {"format"}),
            "findings": [
                _told(asdict(each) | _settled(settled.get(place_of(each))), _OF_CHECK)
                for each in self.findings
            ],
        }


def _settled(row: SettledRow | None) -> dict[str, Any]:
    return asdict(row) if row else {}


def _told(row: Mapping[str, Any], but: set[str]) -> dict[str, Any]:
    return {
        name: value.isoformat() if isinstance(value, datetime) else value
        for name, value in row.items()
        if name not in but
    }
