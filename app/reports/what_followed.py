"""What followed a record, as a PDF beside it: sealed by the site, and signed by nobody."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any
from zoneinfo import ZoneInfo

from app.records import canonical as canonical_form
from app.records.events import DeviceStopped
from app.records.kinds import kind_named
from app.records.what_followed import Ending
from app.reports.followed_file import ShownEntries, attachments_of
from app.reports.page import environment, patient_words, style_sheet
from app.reports.renderer import renderer_content
from app.reports.times import Clock, day_in_words
from app.words.followed import ENDINGS, told_words


@dataclass(frozen=True, kw_only=True)
class Told:
    """One line: when, what, by whom, and which entry of the log it is; `stated` and `text` are of a stop."""

    at: str
    says: str
    stated: str
    text: str
    by: str
    position: int


def render_what_followed(document: Mapping[str, Any], *, shown: ShownEntries | None) -> bytes:
    """The PDF of what followed a record, with its data and its entries attached: the same bytes, anywhere."""
    # Loading the renderer takes half a second, which nobody who only compares should wait for.
    from app.reports.pdf import make_pdf  # noqa: PLC0415

    attached = attachments_of(
        canonical_form.canonical(document), shown=shown, renderer=renderer_content(), at=_made_at(document)
    )
    return make_pdf(what_followed_page(document), style_sheet(), attached=attached)


def what_followed_page(document: Mapping[str, Any]) -> str:
    """The page (HTML) that the PDF is made from."""
    first = document["entries"][0]
    clock = Clock(zone=ZoneInfo(document["zone"]), opened_at=datetime.fromisoformat(first["at"]))
    digest = document["follows"]
    return (
        environment()
        .get_template("what_followed.html")
        .render(
            told=document,
            kind=kind_named(document["check"]["kind"]),
            clock=clock,
            made_at=_made_at(document).isoformat(timespec="seconds"),
            whose=patient_words(document["patient"]),
            ending=ENDINGS[Ending(document["ended"]["how"])],
            lines=tuple(_told(each, clock) for each in document["entries"]),
            digest_groups=[digest[place : place + 4] for place in range(0, len(digest), 4)],
        )
    )


def _made_at(document: Mapping[str, Any]) -> datetime:
    """The time of the last event, the only one that the file's own dates say."""
    return datetime.fromisoformat(document["entries"][-1]["at"])


def _in_words(entry: Mapping[str, Any]) -> dict[str, str]:
    """Whoever saw what was taken back, by name, and when that was."""
    if "witness" not in entry:
        return {}
    return {"witness": entry["witness"], "stated_at": day_in_words(entry["data"]["stated_at"])}


def _told(entry: Mapping[str, Any], clock: Clock) -> Told:
    data = entry["data"]
    is_stop = entry["kind"] == DeviceStopped.kind
    return Told(
        at=clock.short(entry["at"]),
        says=told_words(entry["kind"], {**data, **_in_words(entry)}),
        stated=day_in_words(data["stopped_at"]) if is_stop else "",
        text=data["totals"].strip() if is_stop else "",
        by=entry["by"] or "the site",
        position=entry["position"],
    )
