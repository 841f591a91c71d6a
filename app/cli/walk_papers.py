"""What a walk leaves behind: the account at its end in words and figures, and every paper that was sealed."""

import json
from pathlib import Path
from typing import Any

from app.cli.bedside import Bedside
from app.cli.walk import Say, WalkFailed
from app.judging.account import account_case, balanced
from app.reports.account_statement import statements_of
from app.workflow.following import tell_what_followed
from app.workflow.issuing import Issued, LeftAlone, issue_record

ACCOUNT = "account.json"


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
    """Seal and write the record of each check that was signed, and what followed those that ran on."""
    site, clock = bed.running.site, bed.running.clock
    for number, check in enumerate(bed.kept, start=1):
        with site.store.read() as reader:
            kept, editions = reader.find_check(check), [each.edition for each in reader.frozen_records(check)]
        assert kept is not None  # noqa: S101  # it was signed
        # The sweeper of the server may have been quicker with either.
        sealed = issue_record(site, check, editions[-1], clock())
        followed = tell_what_followed(site, check, editions[-1], clock())
        for said in (sealed, followed):
            if not isinstance(said, Issued | LeftAlone):
                raise WalkFailed(f"it was not sealed: {said}")
        for name, content in _papers(bed, check, editions[-1]):
            path = folder / f"{number}-{kept.kind}{name}.pdf"
            path.write_bytes(content)
            say(f"sealed: {path} ({len(content)} bytes)")


def _papers(bed: Bedside, check: str, edition: int) -> tuple[tuple[str, bytes], ...]:
    with bed.running.site.store.read() as reader:
        record = reader.find_pdf(check, edition)
        followed = [each for each in reader.followed(check) if each.edition == edition]
    if record is None:
        raise WalkFailed("the record's PDF was not made")
    return (("", record.content), *(("-what-followed", each.content) for each in followed))
