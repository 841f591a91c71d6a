"""The signed record as a PDF: about two pages that a person can audit."""

from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any
from zoneinfo import ZoneInfo

from app.records import canonical as canonical_form
from app.records.followup import NOT_COMPUTED
from app.records.kept_orders import find_compared
from app.records.kinds import kind_named
from app.records.settled import How, findings_of, settle_in
from app.records.what_followed import patient_in
from app.reports import figures, shown_fields
from app.reports.account_statement import closing_says, is_left_open, statements_of
from app.reports.attachments import LogProof, attachments_of
from app.reports.changed import changes_shown
from app.reports.chart import For, charts_of
from app.reports.differences import last_compared, notes_of, rounds_shown
from app.reports.handed_over import handed_over_shown
from app.reports.line_sets import in_words
from app.reports.names_read import all_names_shown
from app.reports.page import environment, patient_words, style_sheet
from app.reports.readings import Standing, concentration_row, rows_of, with_masses
from app.reports.renderer import renderer_content
from app.reports.square_code import square_code
from app.reports.steps import groups_of, priming_shown, taken_back_shown
from app.reports.times import Clock, day_in_words
from app.words import names as words
from app.words.checking import not_judged_words, on_record_words


@dataclass(frozen=True, kw_only=True)
class RecordSignature:
    """One clinician's signature, as it is shown: who, when, and what it means.

    `jws` is the signature itself, to be attached.
    """

    letter: str
    printed_name: str
    person: str
    signed_at: datetime
    meaning: str
    jws: str = ""


def render_record(
    document: dict[str, Any],
    *,
    digest: str,
    signatures: tuple[RecordSignature, ...],
    proof: LogProof | None = None,
) -> bytes:
    """The PDF of a canonical record, with the record and its proofs attached.

    The same renderer makes the same bytes of the same record, signatures and proof, anywhere.
    """
    # Loading the renderer takes half a second, which nobody who only compares should wait for.
    from app.reports.pdf import make_pdf  # noqa: PLC0415

    page = record_page(document, digest=digest, signatures=signatures)
    attached = attachments_of(
        canonical_form.canonical(document),
        signatures={each.letter: each.jws for each in signatures},
        proof=proof,
        renderer=renderer_content(),
        at=_made_at(signatures),
    )
    return make_pdf(page, style_sheet(), attached=attached)


def record_page(document: Mapping[str, Any], *, digest: str, signatures: tuple[RecordSignature, ...]) -> str:
    """The page (HTML) that the PDF is made from."""
    _refuse_what_does_not_belong_together(document, digest, signatures)
    document = in_words(document)
    clock = Clock(
        zone=ZoneInfo(document["zone"]), opened_at=datetime.fromisoformat(document["check"]["opened_at"])
    )
    last = last_compared(document)
    result, findings = last["comparison"], findings_of(last)
    order = find_compared(result)
    readings = with_masses(last["readings"], last["case"])
    kind = kind_named(document["check"]["kind"])
    standing = Standing(kind=kind, exempt=frozenset(each["finding"] for each in document["exceptions"]))

    def rows(fields: tuple[shown_fields.Shown, ...]) -> tuple[Any, ...]:
        return rows_of(fields, readings, findings, standing)

    settings = tuple(
        concentration_row(row, result) if row.label == "Concentration" else row
        for row, field in zip(rows(shown_fields.SETTINGS), shown_fields.SETTINGS, strict=True)
        # What the mode does not use is said; what nobody ordered is not.
        if row.lines or field.by_mode
    )
    return (
        environment()
        .get_template("record.html")
        .render(
            record=document,
            kind=kind,
            clock=clock,
            words=words,
            how=How,
            moment=day_in_words,
            digest_groups=[digest[place : place + 4] for place in range(0, len(digest), 4)],
            signatures={each.letter: each for each in signatures},
            meanings=list(dict.fromkeys(each.meaning for each in signatures)),
            made_at=_made_at(signatures).isoformat(timespec="seconds"),
            last=words.round_words(last["round"]),
            ended=_ended(document),
            statements=statements_of(document.get("account") or result.get("account")),
            handed_over=handed_over_shown(document, clock),
            closing=closing_says(document.get("account")),
            is_account_open=is_left_open(document, findings),
            is_not_computed=any(each.code == NOT_COMPUTED for each in findings),
            not_judged=not_judged_words(result["not_judged"]),
            on_record=on_record_words(order, clock.full(order.received_at)) if order else "",
            patient=rows(shown_fields.WRISTBAND),
            names=all_names_shown(readings),
            whose=patient_words(patient_in(document)),
            settings=tuple(row for row in settings if row.lines),
            not_set=tuple(row.label.lower() for row in settings if not row.lines),
            chart=rows(shown_fields.CHART),
            syringe=rows(shown_fields.SYRINGE),
            monitor=rows(shown_fields.MONITOR),
            totals=rows(shown_fields.TOTALS),
            bedside=rows(shown_fields.BEDSIDE),
            volumes=last["case"]["policy"],
            rounds=rounds_shown(document, clock),
            notes=notes_of(document),
            changed=changes_shown(result),
            delivered=figures.delivered(result),
            most=figures.most(result),
            in_the_line=figures.in_the_line(result),
            charts=charts_of(last["case"], For.PAPER),
            code=square_code(_address(document, digest), "Record, edition and digest, to be scanned"),
            taken_back=taken_back_shown(document),
            priming=priming_shown(document) if "priming" in document else (),
            groups=groups_of(document, clock) if "safety_steps" in document else (),
        )
    )


def _made_at(signatures: tuple[RecordSignature, ...]) -> datetime:
    """The time of the last signature, the only one that the file's own dates say."""
    return max(each.signed_at for each in signatures)


def _address(document: Mapping[str, Any], digest: str) -> str:
    """What the paper's code says: which record this is, without naming a host that may be gone by then."""
    return f"countersign:record/{document['record']}/{document['edition']}/{digest}"


def _refuse_what_does_not_belong_together(
    document: Mapping[str, Any], digest: str, signatures: tuple[RecordSignature, ...]
) -> None:
    """A page that shows a digest or a name shows that of this very record; anything else is a bug."""
    if canonical_form.digest(canonical_form.canonical(document)) != digest:
        message = "the digest is not this record's"
        raise ValueError(message)
    clinicians = {each["letter"]: each["person"] for each in document["clinicians"]}
    if {each.letter: each.person for each in signatures} != clinicians:
        message = "the signatures are not those of this record's two clinicians"
        raise ValueError(message)


_ENDS = {
    How.PUT_RIGHT: "put right",
    How.READ_AGAIN: "settled by reading again",
    How.EXCEPTION: "set aside by an exception",
    How.ACKNOWLEDGED: "acknowledged by both",
    How.NOT_SETTLED: "NOT SETTLED",
}


def _ended(document: Mapping[str, Any]) -> tuple[str, ...]:
    """How many stops and cautions came to rest in which way; one that stood for two rounds counts once."""
    ends = {
        found.key: settle_in(document, each["round"], found).how
        for each in document["rounds"]
        for found in findings_of(each)
        if found.severity != "note"
    }
    count = Counter(ends.values())
    return tuple(f"{count[how]} {said}" for how, said in _ENDS.items() if count[how])
