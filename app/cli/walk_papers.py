"""What a walk leaves behind: the account at its end in words and figures, and every paper that was sealed."""

import json
import time
from pathlib import Path
from typing import Any

from app.cli.bedside import Bedside
from app.cli.walk import PATIENCE_SECONDS, Say, WalkFailed
from app.judging.account import account_case, balanced
from app.reports.account_statement import statements_of

ACCOUNT = "account.json"
# Nothing is put right in this story once its record is frozen.
_EDITION = 1
_LOOKS_A_SECOND = 5


def tell_account(bed: Bedside, folder: Path, *, say: Say) -> None:
    """Print the account that both signed at the end, as the engine computes it again, and write its case."""
    account = _signed_account(bed)
    case = account_case(account["entries"], account["policy"])
    path = folder / ACCOUNT
    path.write_text(json.dumps(case, indent=2, ensure_ascii=False) + "\n", encoding="utf-8")
    result = balanced(account["entries"], account["policy"])
    say(f"\nThe account, as `countersign balance {path}` computes it again:")
    for each in statements_of({**account, "result": result}):
        say(f"\n{each.title}")
        for row in each.rows:
            volume, amount = (line.text for line in row.lines)
            say(f"  {row.label:<30} {volume:>10} {amount:>10}")
        say(f"  {each.verdict}")
    for finding in result["findings"]:
        say(f"  {finding['says']}")


def _signed_account(bed: Bedside) -> dict[str, Any]:
    with bed.running.site.store.read() as reader:
        told: dict[str, Any] = reader.frozen_records(bed.kept[-1])[-1].told["account"]
    return told


def keep_papers(bed: Bedside, folder: Path, *, say: Say) -> None:
    """Write the record of each check and what followed it, as the server's sweeper has sealed them."""
    for number, check in enumerate(bed.kept, start=1):
        with bed.running.site.store.read() as reader:
            kept = reader.find_check(check)
        assert kept is not None  # noqa: S101  # it was signed
        for name, content in _wait_for(bed, check).items():
            path = folder / f"{number}-{kept.kind}{name}.pdf"
            path.write_bytes(content)
            say(f"sealed: {path} ({len(content)} bytes)")


def _wait_for(bed: Bedside, check: str) -> dict[str, bytes]:
    """Both papers of a check; two that draw pages at once would do so in each other's way."""
    for _ in range(PATIENCE_SECONDS * _LOOKS_A_SECOND):
        with bed.running.site.store.read() as reader:
            record, followed = reader.find_pdf(check, _EDITION), reader.followed(check)
        if record is not None and followed:
            return {"": record.content, "-what-followed": followed[-1].content}
        time.sleep(1 / _LOOKS_A_SECOND)
    raise WalkFailed("a record, or what followed it, was not sealed in time")
