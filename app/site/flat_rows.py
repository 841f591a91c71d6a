"""The flat rows of findings and of ended checks, written in the transaction of what they tell of."""

from app.keys import patient_pseudonym, pseudonym
from app.records.flat_rows import Facts, find_patient, rows_of_check
from app.records.kept import KeptComparison
from app.records.kept_rows import FindingReached, RowsOfCheck
from app.records.reached import all_reached
from app.site.installation import Site
from app.site.loading import Loaded
from app.site.record import earlier_looks
from app.storage import Reader, Transaction


def made_rows(site: Site, reader: Reader, loaded: Loaded) -> RowsOfCheck:
    """The rows of a check, made from what is stored of it."""
    check = loaded.state.check
    patient = find_patient(loaded.comparisons)
    return rows_of_check(
        Facts(
            state=loaded.state,
            comparisons=loaded.comparisons,
            entries=[each for each in loaded.entries if each.check == check.id],
            # Only an end tells of the record.
            frozen=reader.frozen_records(check.id) if loaded.state.has_ended else (),
            looks=earlier_looks(reader, loaded),
            versions={"policy": loaded.policy.version, "library": loaded.library["version"]},
            invented=loaded.rules.are_invented,
            pseudonyms={slot: pseudonym(site.key, who) for slot, who in loaded.state.people.items()},
            patient=patient_pseudonym(site.key, patient) if patient else "",
        )
    )


def kept_rows(reader: Reader, check: str) -> RowsOfCheck:
    """The rows of a check as they are stored."""
    return RowsOfCheck(
        findings=reader.finding_rows(check),
        settled=reader.settled_rows(check),
        ended=next(iter(reader.ended_rows(check)), None),
    )


def made_reached(reader: Reader, rows: RowsOfCheck) -> tuple[FindingReached, ...]:
    """How far the review of each finding of a check has come, by what was done with it."""
    if rows.ended is None:
        return ()
    check = rows.ended.check
    return all_reached(rows.findings, reader.finding_reviews(check), reader.classifications(check))


def keep_findings(site: Site, tx: Transaction, loaded: Loaded, kept: KeptComparison) -> None:
    """What a comparison found just now; part of that transaction."""
    if kept.told["findings"]:
        place = (kept.subject, kept.round)
        findings = made_rows(site, tx, loaded.after(tx.appended, (kept,))).findings
        tx.add_findings([each for each in findings if (each.subject, each.round) == place])


def keep_end(site: Site, tx: Transaction, loaded: Loaded) -> None:
    """How each finding came to rest, and the check as one row; part of the act that ended it."""
    rows = made_rows(site, tx, loaded.after(tx.appended))
    assert rows.ended is not None  # noqa: S101  # it has just ended
    tx.add_ended(rows.ended)
    tx.add_settled(rows.settled)
