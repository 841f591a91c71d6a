"""The keystroke-level model: from what was pressed to its operators, screen by screen, and their time.

Card, Moran and Newell, "The keystroke-level model for user performance time with interactive systems",
Communications of the ACM 23(7), 1980, 396-410, and "The psychology of human-computer interaction", 1983,
chapter 8: K 0.20 s (an average skilled typist; shift is a key of its own), P 1.10 s, H 0.40 s, M 1.35 s and
B 0.10 s (a button of the pointer down, or up).
"""

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Self

from playwright.sync_api import BrowserContext, Page

# Keys that lead on and are expected before they are pressed: no thought precedes them (rule 1).
_LEADING = frozenset({"Tab", "Shift", "End", "Home", "PageDown", "PageUp"})
_ACTING = frozenset({"Enter", " "})


@dataclass(frozen=True, kw_only=True)
class Event:
    """One press, of a key or (without one) of the pointer: where, and on which field or command."""

    screen: str
    key: str = ""
    at: str = ""
    is_command: bool = False


@dataclass(frozen=True, kw_only=True)
class Counts:
    """How many of each operator."""

    k: int = 0
    p: int = 0
    h: int = 0
    m: int = 0
    b: int = 0

    def __add__(self, other: Self) -> "Counts":
        return Counts(
            k=self.k + other.k,
            p=self.p + other.p,
            h=self.h + other.h,
            m=self.m + other.m,
            b=self.b + other.b,
        )

    @property
    def milliseconds(self) -> int:
        """How long an expert takes who makes no error."""
        return 200 * self.k + 1100 * self.p + 400 * self.h + 1350 * self.m + 100 * self.b


def strokes(text: str) -> int:
    """The keys that a text needs: one a character, and shift once for each run of capitals."""
    return sum(1 + _needs_shift(before, sign) for before, sign in zip(f" {text}", text, strict=False))


def _needs_shift(before: str, sign: str) -> bool:
    return len(sign) == 1 and sign.isupper() and not (len(before) == 1 and before.isupper())


def count(events: Iterable[Event]) -> dict[str, Counts]:
    """The operators of each screen, in the order in which the screens were met; the hands begin at the keys.

    One M precedes each field and each command, and none what belongs to one of them: its further keys, its
    unit, the way to it (rules 0 to 2). Enter that ends a page is a command of its own (rule 4).
    """
    counted: dict[str, Counts] = {}
    hand, thought, before = "keys", ("", ""), ""
    for event in events:
        used = "keys" if event.key else "pointer"
        thinks_of = _thought(event)
        made = Counts(
            k=(1 + _needs_shift(before, event.key)) if event.key else 0,
            p=0 if event.key else 1,
            b=0 if event.key else 2,
            h=int(used != hand),
            m=int(bool(thinks_of[1]) and thinks_of != thought),
        )
        counted[event.screen] = counted.get(event.screen, Counts()) + made
        hand, before = used, event.key
        if thinks_of[1]:
            thought = thinks_of
    return counted


def _thought(event: Event) -> tuple[str, str]:
    """What a press belongs to: a field, a command, or (blank) the way to one."""
    if event.key in _LEADING:
        return event.screen, ""
    if event.is_command:
        acts = not event.key or event.key in _ACTING
        return event.screen, f"press {event.at}" if acts else ""
    if event.key == "Enter":
        return event.screen, f"go on from {event.at}" if event.at else ""
    return event.screen, event.at or event.key


# Every press that a person made, where it was made: a page's own scripts press nothing that is trusted.
_RECORDER = """(() => {
  const thing = (target) => {
    const each = target instanceof Element ? target : document.body;
    const command = each.closest("button, a[href], summary");
    // A way within the page leads to something else.
    if (command?.getAttribute("href")?.startsWith("#")) return ["", false];
    if (command) return [command.getAttribute("aria-label") || command.textContent.trim(), true];
    const row = each.closest("[data-field]");
    if (row) return [row.dataset.field, false];
    const input = each.closest("label")?.control || each;
    const name = input.getAttribute("name") || "";
    return [input.type === "checkbox" ? `${name} ${input.value}` : name, false];
  };
  const note = (event) => {
    if (!event.isTrusted) return;
    const [at, isCommand] = thing(event.target);
    window.notePress({path: location.pathname, key: event.key || "", at, isCommand});
  };
  addEventListener("keydown", note, true);
  addEventListener("pointerdown", note, true);
})();"""


def record(context: BrowserContext) -> list[Event]:
    """Note every press in every page of this context from now on."""
    events: list[Event] = []

    def note(_source: object, told: dict[str, object]) -> None:
        events.append(
            Event(
                screen=screen_of(str(told["path"])),
                key=str(told["key"]),
                at=str(told["at"]),
                is_command=bool(told["isCommand"]),
            )
        )

    context.expose_binding("notePress", note)
    context.add_init_script(_RECORDER)
    return events


def screen_of(path: str) -> str:
    """A page by its path, without the id of a check; the list of checks has no path of its own."""
    parts = path.strip("/").split("/")
    named = parts[2:] or ["check"] if parts[0] == "check" else parts
    return " ".join(named) or "my checks"


def settle(page: Page) -> None:
    """Wait until a page that has come has given the keyboard to the place that it names, if it names one."""
    for _ in range(50):
        page.wait_for_load_state()
        if page.evaluate(
            "!document.querySelector('[autofocus]') || document.activeElement !== document.body"
        ):
            return
        page.wait_for_timeout(20)
    message = f"{page.url} gives the keyboard to nothing"
    raise AssertionError(message)
