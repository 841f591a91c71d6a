"""How long the bedside waits while files are examined: 95 of 100 answers, beside 0, 1 and 8 of them.

Run from the project's folder: `PYTHONPATH=. .venv/bin/python tests/bench/bench_uploads.py [ANSWERS]`. A nurse
asks for her list and a check by turns, as fast as they come, while others give a record's PDF again and
again. All in threads of one process, as a server has them, so that what is done for a file in the process
itself is felt. Beside each figure: how many files were answered (200) and turned away (503). Exits with 1
when eight make a bedside answer wait more than `AIM` times as long as none.
"""

import sys
import tempfile
import threading
import time
from collections import Counter
from collections.abc import Callable
from functools import partial
from itertools import cycle, islice
from pathlib import Path
from statistics import quantiles

from app.site.installation import Site
from app.storage import migrate, open_store
from app.workflow.enrolling import enrol
from app.workflow.issuing import Issued, issue_record
from tests.factories.enrolled import QUICK, newcomer
from tests.factories.site_keys import site_keys
from tests.story.pages import cleared
from tests.support.browser import Browser
from tests.support.world import KEY, START, World, furnish, make_world, seeded_people
from tests.web.test_verifying import given

ANSWERS = int(sys.argv[1]) if len(sys.argv) > 1 else 300
AIM = 2.0
BESIDE = (0, 1, 8)
GIVERS = tuple(f"q.giver-{letter}" for letter in "abcdefgh")
SECRET = "a long secret of "


def world_in(folder: Path) -> World:
    """A furnished installation."""
    address = f"sqlite:///{folder / 'uploads.sqlite3'}"
    migrate(address)
    store = open_store(address)
    furnish(Site(store=store, key=KEY, site_keys=site_keys()))
    world = make_world(store)
    quality = next(each for each in seeded_people() if each["login"] == "q.lindqvist")
    alike = {name: quality[name] for name in ("roles", "unit")}
    others = [
        newcomer(
            id=f"{number:032x}",
            login=login,
            staff_number=f"LG-990{number}",
            printed_name=f"Giver {login[-1].upper()}",
            secret=SECRET + login,
            **alike,
        )
        for number, login in enumerate(GIVERS)
    ]
    enrol(world.site, START, others, tools=QUICK)
    world.secrets = {**world.secrets, **{login: SECRET + login for login in GIVERS}}
    return world


def waits(bedside: Browser, paths: tuple[str, ...]) -> list[float]:
    """How long each of the bedside's answers took by the clock on the wall, in milliseconds."""
    took = []
    for path in islice(cycle(paths), ANSWERS):
        begun = time.perf_counter()
        assert bedside.get(path).status == 200
        took.append(1000 * (time.perf_counter() - begun))
    return took


def beside(world: World, waited_for: Callable[[], list[float]], content: bytes, uploads: int) -> float:
    """The wait that 95 of 100 answers stay below while so many give files."""
    over, answered = threading.Event(), Counter[int]()

    def gives(browser: Browser) -> None:
        while not over.is_set():
            answered[given(browser, content).status] += 1
            # Whoever is answered chooses a file again, which takes a person a moment.
            over.wait(2)

    threads = [threading.Thread(target=gives, args=(world.at(login),)) for login in GIVERS[:uploads]]
    for each in threads:
        each.start()
    time.sleep(2 if threads else 0)
    took = waited_for()
    over.set()
    for each in threads:
        each.join()
    *_, most = quantiles(took, n=20)
    print(f"beside {uploads} uploads: 95 of 100 answers within {most:.0f} ms; {dict(answered)}", flush=True)
    return most


def main() -> int:
    """All three."""
    with tempfile.TemporaryDirectory() as name:
        world = world_in(Path(name))
        pair = cleared(world)
        assert isinstance(issue_record(world.site, pair.check, 1, world.clock.now), Issued)
        with world.site.store.read() as reader:
            pdf = reader.find_pdf(pair.check, 1)
        assert pdf is not None
        bedside = world.at("n.ferrow")
        waited_for = partial(waits, bedside, ("/", f"/check/{pair.check}"))
        waited_for()
        alone, *_, eight = (beside(world, waited_for, pdf.content, each) for each in BESIDE)
        world.site.store.close()
    return 0 if eight <= AIM * alone else 1


if __name__ == "__main__":
    sys.exit(main())
