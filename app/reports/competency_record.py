"""A person's record of checks on training cards, signed by the person and by a trainer, as a PDF."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any
from zoneinfo import ZoneInfo

from app.config import root
from app.records.canonical import canonical, digest
from app.reports.attachments import LogProof
from app.reports.competency_file import HOLDER, TRAINER, attachments_of
from app.reports.page import environment, style_sheet
from app.reports.renderer import renderer_content
from app.reports.times import Clock
from app.review.competency import read_record
from app.words.names import FOR_TRAINING
from app.words.training import caught_of_words, caught_words, median_words, took_words, wrong_words


@dataclass(frozen=True, kw_only=True)
class CompetencySignature:
    """One of the two signatures, as it is shown; `jws` is the signature itself, to be attached."""

    printed_name: str
    signed_at: datetime
    meaning: str
    jws: str


Both = Mapping[str, CompetencySignature]
"""The holder's and the trainer's."""


def render_competency(document: Mapping[str, Any], *, signatures: Both, proof: LogProof | None) -> bytes:
    """The PDF, with what both signed and its proofs attached; of the same it has the same bytes, anywhere."""
    # Loading the renderer takes half a second, which nobody who asks for another page should wait for.
    from app.reports.pdf import make_pdf  # noqa: PLC0415

    style = (root() / "templates" / "reports" / "competency.css").read_text(encoding="utf-8")
    attached = attachments_of(
        canonical(document),
        signatures={who: each.jws for who, each in signatures.items()},
        proof=proof,
        renderer=renderer_content(),
        at=_made_at(signatures),
    )
    return make_pdf(competency_page(document, signatures), style_sheet(), style, attached=attached)


def competency_page(document: Mapping[str, Any], signatures: Both) -> str:
    """The page (HTML) that the PDF is made from."""
    made_at, told = _made_at(signatures), read_record(document)
    clock = Clock(zone=ZoneInfo(document["zone"]), opened_at=made_at)
    written = digest(canonical(document))
    return (
        environment()
        .get_template("competency.html")
        .render(
            record=document,
            for_training=FOR_TRAINING,
            clock=clock,
            made_at=made_at.isoformat(timespec="seconds"),
            share=caught_of_words(told),
            median=median_words(told),
            signatures=[signatures[who] for who in (HOLDER, TRAINER)],
            digest_groups=[written[place : place + 4] for place in range(0, len(written), 4)],
            lines=[
                (clock.full(each.on), each.number, wrong_words(each), caught_words(each), took_words(each))
                for each in told.lines
            ],
        )
    )


def _made_at(signatures: Both) -> datetime:
    """The time of the last signature, the only one that the file's own dates say."""
    return max(each.signed_at for each in signatures.values())
