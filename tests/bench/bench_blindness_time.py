"""Whether the second nurse could tell by a clock what the first one read: two worlds, the same requests.

Run from the project's folder: `.venv/bin/poe blindness`. In one world the first nurse has handed in
what the second is about to read; in the other nearly every field is another, and as long as it may be. The
second nurse asks for each page 400 times in each world, in turn, and the world that goes first changes from
pair to pair. The aim: medians less than 2 ms apart, and p above 0.01 in a test of the medians that swaps the
two times of a pair at random, which is all that chance could have done if the worlds are alike.

Both the clock on the wall and CPU time are read: the first is what anybody could see, and the second is quiet
enough on a shared machine for the twin, which shows that the test could fail: 1 ms more in one world, put in
by hand, must be found. Exits with 1 when the aim is missed.
"""

import random  # noqa: TID251  # shuffles times, and guards nothing
import sys
import tempfile
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from statistics import median

from werkzeug.test import TestResponse

from app.records.reading import Answers
from app.records.sources import Source
from app.site.installation import Site
from app.storage import migrate, open_store
from tests.factories.answers import answers
from tests.factories.site_keys import site_keys
from tests.story.pages import Pair, joined
from tests.support.browser import ORIGIN
from tests.support.world import KEY, furnish, make_world, typed

PAIRS = 400
SHUFFLES = 1_999
APART_AT_MOST = 0.002
CHANCE_AT_LEAST = 0.01
EVEN = 0.5
ADDED_TO_TWIN = 0.001

LIKE = answers()
OTHERWISE = answers(
    wristband={"identifier": "Z" * 190},
    order={"drug": "morphine", "carrier_fluid": "none", "carrier_rate": None},
    label={"drug": "fentaNYL", "amount": "30 mg", "lot": "L" * 190},
    chart={"allergy": "to-this-drug-or-its-family", "sedatives": "charted"},
    monitor={"capnography": "off"},
    device={"demand_dose": "7.3719 mg"},
)
# What the second nurse may ask for before handing in, and how it is answered.
PAGES = {"/read/device": 200, "/read": 200, "/waiting": 303, "": 303}

Times = tuple[float, float]


@dataclass(frozen=True, kw_only=True)
class Taken:
    """Seconds that one request took."""

    wall: float
    cpu: float


def world_in_which(folder: Path, name: str, read: Answers) -> Pair:
    """A world in which the first nurse has handed this in, and the second has written everything down."""
    address = f"sqlite:///{folder / name}.sqlite3"
    migrate(address)
    store = open_store(address)
    furnish(Site(store=store, key=KEY, site_keys=site_keys()))
    pair = joined(make_world(store))
    pair.hand_in(pair.first, read)
    pair.draft(pair.second, answers())
    return pair


def timed(ask: Callable[[], TestResponse], status: int) -> Taken:
    """What one request takes."""
    wall, cpu = time.perf_counter(), time.process_time()
    answer = ask()
    taken = Taken(wall=time.perf_counter() - wall, cpu=time.process_time() - cpu)
    assert answer.status_code == status, answer.get_data(as_text=True)
    answer.close()
    return taken


def asked(pair: Pair, tail: str, status: int) -> Taken:
    """What one page takes the second nurse."""
    return timed(lambda: pair.second.client.get(f"/check/{pair.check}{tail}", base_url=ORIGIN), status)


def kept(pair: Pair, version: int) -> Taken:
    """What keeping one source takes the second nurse."""
    fields = {
        **typed(Source.DEVICE, answers()["device"]),
        "csrf_token": pair.second.token(),
        "version": str(version),
    }
    path = f"/check/{pair.check}/read/device"
    return timed(lambda: pair.second.client.post(path, base_url=ORIGIN, data=fields), 303)


def apart(pairs: Sequence[Times]) -> float:
    """Seconds between the medians of the two worlds."""
    return median(one for one, _ in pairs) - median(other for _, other in pairs)


def chance(pairs: Sequence[Times]) -> float:
    """How often swapping the times within pairs at random sets the medians at least as far apart."""
    # The same draws each time, so that the same times give the same answer.
    drawn, found = random.Random(1), abs(apart(pairs))  # noqa: S311  # nothing to guess here
    further = 0
    for _ in range(SHUFFLES):
        swapped = [(other, one) if drawn.random() < EVEN else (one, other) for one, other in pairs]
        further += abs(apart(swapped)) >= found
    return (1 + further) / (1 + SHUFFLES)


def is_alike(what: str, pairs: Sequence[Times]) -> bool:
    """Print the figures of one clock; whether the aim is met."""
    difference, likely = abs(apart(pairs)), chance(pairs)
    medians = " and ".join(f"{median(each) * 1000:.2f}" for each in zip(*pairs, strict=True))
    print(f"{what}: medians {medians} ms, apart {difference * 1000:.3f} ms, p {likely:.3f}", flush=True)
    return difference < APART_AT_MOST and likely > CHANCE_AT_LEAST


def is_twin_found(pairs: Sequence[Times]) -> bool:
    """Print what the test makes of a difference put in by hand; whether it finds it."""
    likely = chance([(one + ADDED_TO_TWIN, other) for one, other in pairs])
    print(f"  twin, {ADDED_TO_TWIN * 1000:.0f} ms added: p {likely:.4f}", flush=True)
    return likely <= CHANCE_AT_LEAST


def measure(worlds: Sequence[Pair], what: str, ask: Callable[[Pair, int], Taken]) -> bool:
    """Ask in turn; whether nothing can be told, and something could have been."""
    taken: list[tuple[Taken, Taken]] = []
    for number in range(PAIRS):
        if number % 2:
            taken.append((ask(worlds[0], number), ask(worlds[1], number)))
        else:
            other = ask(worlds[1], number)
            taken.append((ask(worlds[0], number), other))
    wall = [(one.wall, other.wall) for one, other in taken]
    cpu = [(one.cpu, other.cpu) for one, other in taken]
    met = [is_alike(f"{what}, wall", wall), is_alike(f"{what}, CPU", cpu), is_twin_found(cpu)]
    return all(met)


def main() -> int:
    """Measure and print."""
    with tempfile.TemporaryDirectory() as name:
        worlds = [
            world_in_which(Path(name), "like", LIKE),
            world_in_which(Path(name), "otherwise", OTHERWISE),
        ]
        met = [
            measure(worlds, f"GET {tail or 'the check'}", partial(_page, tail, status))
            for tail, status in PAGES.items()
        ]
        met.append(
            measure(worlds, "POST /read/device", lambda pair, number: kept(pair, len(Source) + number))
        )
        for pair in worlds:
            pair.world.site.store.close()
    return 0 if all(met) else 1


def _page(tail: str, status: int, pair: Pair, _number: int) -> Taken:
    return asked(pair, tail, status)


if __name__ == "__main__":
    sys.exit(main())
