"""A picture of every screen on a tablet and a phone, by day and by night, with one sheet to look at them all.

`poe screens` walks the paths of two nurses, of those who help and of those who look afterwards.
"""

import html
import shutil
import tempfile
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import Literal

from PIL import Image
from playwright.sync_api import sync_playwright

from app.cli.demo_site import demonstration
from app.config import root
from tests.browser.devices import DESKTOP, launch
from tests.browser.people import Person
from tests.browser.walk import walk
from tests.browser.ward import Ward, read_scene

FOLDER = root() / ".countersign" / "screens"
TABLET, PHONE = (820, 1180), (390, 844)
WAYS: dict[str, tuple[tuple[int, int], Literal["light", "dark"]]] = {
    "tablet": (TABLET, "light"),
    "tablet at night": (TABLET, "dark"),
    "phone": (PHONE, "light"),
    "phone at night": (PHONE, "dark"),
}
# What a comparison shows must be told apart in these too: in few colours, without any, on paper.
PLAINER_WAYS = ("forced colours", "grey", "one bit, printed")
COMPARED = (
    "do not start",
    "consider",
    "agreed",
    "differ",
    "a rule stands",
    "many things",
    "the record",
    "infusion",
)


@dataclass(kw_only=True)
class Camera:
    """Takes each screen in every way, in the order of the walk."""

    folder: Path
    taken: list[str] = field(default_factory=list)

    def take(self, person: Person, name: str) -> None:
        """The page that this person has in front."""
        label = f"{len(self.taken) + 1:02} {name}"
        self.taken.append(label)
        page = person.page
        for way, ((width, height), scheme) in WAYS.items():
            page.emulate_media(color_scheme=scheme)
            page.set_viewport_size({"width": width, "height": height})
            page.screenshot(path=self.path(label, way), full_page=True, animations="disabled")
            wide = page.evaluate("document.documentElement.scrollWidth")
            if wide > width:
                print(f"{label}, {way}: {wide} px wide on {width} px")
        page.emulate_media(color_scheme="light")
        page.set_viewport_size({"width": DESKTOP[0], "height": DESKTOP[1]})
        if name.startswith(COMPARED) or name.endswith(COMPARED):
            self._take_plainer(person, label)

    def _take_plainer(self, person: Person, label: str) -> None:
        forced, grey, printed = (self.path(label, way) for way in PLAINER_WAYS)
        page = person.page
        page.emulate_media(forced_colors="active")
        page.screenshot(path=forced, full_page=True, animations="disabled")
        page.emulate_media(forced_colors="none")
        with Image.open(self.path(label, "tablet")) as light:
            light.convert("L").save(grey)
        page.emulate_media(media="print")
        page.screenshot(path=printed, full_page=True, animations="disabled")
        page.emulate_media(media="screen")
        with Image.open(printed) as paper:
            paper.convert("1", dither=Image.Dither.NONE).save(printed)

    def path(self, label: str, way: str) -> Path:
        """Where a picture is."""
        return self.folder / f"{label}.{way}.png".replace(",", "").replace(" ", "-")

    def write_sheet(self) -> Path:
        """One page with all pictures side by side."""
        rows = "".join(self._row(label) for label in self.taken)
        sheet = self.folder / "index.html"
        sheet.write_text(
            "<!DOCTYPE html><meta charset=utf-8><title>Screens</title>"
            "<style>body{font-family:sans-serif}tr{vertical-align:top}img{width:100%}"
            f"td{{width:14%}}</style><table>{rows}</table>",
            encoding="utf-8",
        )
        return sheet

    def _row(self, label: str) -> str:
        words = html.escape(label)
        names = [(way, self.path(label, way).name) for way in (*WAYS, *PLAINER_WAYS)]
        cells = "".join(
            f'<td><a href="{name}"><img src="{name}" alt="{words}, {way}" loading=lazy></a></td>'
            for way, name in names
            if (self.folder / name).exists()
        )
        return f"<tr><th>{words}</th>{cells}</tr>"


@contextmanager
def open_ward() -> Iterator[Ward]:
    """A ward of its own, gone afterwards."""
    with sync_playwright() as driver, ExitStack() as stack:
        folder = Path(stack.enter_context(tempfile.TemporaryDirectory(prefix="countersign-screens-")))
        browser = launch(driver.chromium)
        running = stack.enter_context(demonstration(folder, port=0))
        yield Ward(running=running, browser=browser, stack=stack)
        browser.close()


def main() -> None:
    """Take every picture."""
    shutil.rmtree(FOLDER, ignore_errors=True)
    FOLDER.mkdir(parents=True)
    scene, camera = read_scene(), Camera(folder=FOLDER)
    with open_ward() as ward:
        walk(ward, camera, scene)
        complaints = [each for one_device in ward.devices for each in one_device.complaints]
    print(f"{len(camera.taken)} screens: {camera.write_sheet()}")
    for each in complaints:
        print(each)


if __name__ == "__main__":
    main()
