"""What may be checked or changed of an infusion, as its page offers it; no value is on it."""

from dataclasses import dataclass
from datetime import datetime

from app.records.course import Bar
from app.web.models.lists import place
from app.words.names import named_as_one, named_within
from app.workflow.changing import ChangeSeen


@dataclass(frozen=True, kw_only=True)
class Offer:
    """A kind of check that is opened on it; `against` is what stands against it, or blank."""

    kind: str
    words: str
    named: str
    about: str
    against: str


@dataclass(frozen=True, kw_only=True)
class ChangePage:
    """What may be changed of an infusion; of one that `is_elsewhere` only that a dose was lowered is told.

    `dead` says once what follows where its device is dead.
    """

    infusion: str
    place: str
    offers: tuple[Offer, ...]
    dead: str
    open_check: str
    due_at: datetime | None
    is_elsewhere: bool


def change_page(seen: ChangeSeen) -> ChangePage:
    """The page for whoever looks."""
    return ChangePage(
        infusion=seen.infusion,
        place="" if seen.is_elsewhere else place(seen.unit, seen.bed),
        offers=tuple(
            Offer(
                kind=kind.name,
                words=kind.words,
                named=named_as_one(kind.name),
                about=kind.about,
                against=bar_words(bar, seen.led_to) if bar else "",
            )
            for kind, bar in seen.barred
        ),
        dead=bar_words(seen.dead, seen.led_to) if seen.dead else "",
        open_check=seen.open_check,
        due_at=seen.due_at,
        is_elsewhere=seen.is_elsewhere,
    )


_DEAD = "Its device is dead and shows nothing:"


_BARS: dict[Bar, str] = {
    Bar.NOT_RUNNING: "This infusion does not run any more: before it starts again, a set-up comes first.",
    Bar.RUNS: "It runs: it is handed over as what runs.",
    Bar.CLOSED: "This infusion has ended, and two have closed its account.",
    Bar.NOT_CHECKED: "No two nurses have checked what runs: a re-check comes before anything else.",
    Bar.NOT_TAKEN: (
        "It was not taken from another unit, or two nurses have checked it since: nothing is due."
    ),
    Bar.DEAD: f"{_DEAD} another device comes first, or it is handed over as it stands.",
    Bar.DEAD_ANEW: f"{_DEAD} a set-up at its bed comes first, or it is handed over as it stands.",
}


def bar_words(bar: Bar, led_to: str) -> str:
    """What stands against a check, and what comes first."""
    if bar is Bar.LED_ELSEWHERE:
        return f"An earlier check led to a {named_within(led_to)}: that comes first."
    return _BARS[bar]
