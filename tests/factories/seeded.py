"""The rules that come with the program, as the judges are given them."""

import json
from typing import Any

from app.config import root
from app.records.rules import without_sources


def seeded(name: str) -> dict[str, Any]:
    """One file of the seed data, without what says where its values come from."""
    content = json.loads((root() / "seed_data" / f"{name}.json").read_text(encoding="utf-8"))
    return dict(without_sources(content))
