"""A picture of every screen, in light, in the dark and on a phone, with one sheet to look at them all.

`poe screens` walks the paths of two nurses, of those who help and of those who look afterwards.
"""

import html
import shutil
import tempfile
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass, field
from pathlib import Path

from playwright.sync_api import sync_playwright

from app.cli.demo_site import demonstration
from app.config import root
from tests.browser.beforehand import Beforehand
from tests.browser.devices import DESKTOP, launch
from tests.browser.people import Helper, Nurse, Person
from tests.browser.ward import Scene, Ward, acknowledge_both, read_both, read_scene

FOLDER = root() / ".countersign" / "screens"
PHONE = (360, 740)
WAYS = ("light", "dark", "phone")


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
        for way in WAYS:
            page.emulate_media(color_scheme="dark" if way == "dark" else "light")
            width, height = PHONE if way == "phone" else DESKTOP
            page.set_viewport_size({"width": width, "height": height})
            page.screenshot(path=self.path(label, way), full_page=True, animations="disabled")
            wide = page.evaluate("document.documentElement.scrollWidth")
            if wide > width:
                print(f"{label}, {way}: {wide} px wide on {width} px")
        page.emulate_media(color_scheme="light")
        page.set_viewport_size({"width": DESKTOP[0], "height": DESKTOP[1]})

    def path(self, label: str, way: str) -> Path:
        """Where a picture is."""
        return self.folder / f"{label.replace(',', '').replace(' ', '-')}.{way}.png"

    def write_sheet(self) -> Path:
        """One page with all pictures side by side."""
        rows = "".join(self._row(label) for label in self.taken)
        sheet = self.folder / "index.html"
        sheet.write_text(
            "<!DOCTYPE html><meta charset=utf-8><title>Screens</title>"
            "<style>body{font-family:sans-serif}tr{vertical-align:top}img{width:100%}"
            f"td{{width:30%}}</style><table>{rows}</table>",
            encoding="utf-8",
        )
        return sheet

    def _row(self, label: str) -> str:
        words = html.escape(label)
        names = [(way, self.path(label, way).name) for way in WAYS]
        cells = "".join(
            f'<td><a href="{name}"><img src="{name}" alt="{words}, {way}" loading=lazy></a></td>'
            for way, name in names
        )
        return f"<tr><th>{words}</th>{cells}</tr>"


def at_bed(scene: Scene, bed: str) -> Scene:
    """The same scene at another bed."""
    return Scene(**{**vars(scene), "bed": bed})


def before_reading(ward: Ward, camera: Camera, scene: Scene) -> tuple[Nurse, Nurse]:
    """From the sign-in to two who have joined."""
    one = Nurse(ward.device(), ward.running.person("n.ferrow"), ward.running.address)
    one.go("/sign-in")
    camera.take(one, "sign in")
    one.write("Id", "n.ferrow")
    one.write("Secret", "a wrong secret")
    one.press("Sign in")
    camera.take(one, "sign in refused")
    one.go("/first-secret")
    camera.take(one, "first secret")
    one.sign_in()
    camera.take(one, "my checks, none")
    one.follow("My signing key")
    camera.take(one, "my signing key")
    one.go("/")
    one.follow("Open a check")
    one.press("Open the check")
    camera.take(one, "open, a fault")
    one.write("Bed", scene.bed)
    one.press("Open the check")
    camera.take(one, "code")
    code = one.page.locator(".join-code").inner_text()
    other = ward.nurse("t.osmund")
    camera.take(other, "my checks, second wanted")
    other.follow("Join by code")
    other.write("Code", "AAA AAA")
    other.press("Find the check")
    camera.take(other, "join by code, wrong")
    other.write("Code", code)
    other.press("Find the check")
    camera.take(other, "join")
    other.press("Join and read alone")
    return one, other


def reading(camera: Camera, scene: Scene, one: Nurse, other: Nurse) -> None:
    """Every source, empty; faults; the look over it; waiting; danger."""
    one.begin_reading()
    while (source := one.source_in_front) is not None:
        camera.take(one, f"read the {source.value}")
        one.read_source(scene.wrong[source.value])
    camera.take(one, "look over my reading")
    one.page.get_by_role("link", name="Change Device").click()
    one.write_source({"demand_dose": ".2 mg", "lockout": "10,0 min", "limit_window": "30 min"})
    one.press("Keep, and go on: Monitor")
    camera.take(one, "read the device, faults")
    one.go("/")
    one.look_at_check(scene.place)
    one.follow("I see danger")
    camera.take(one, "danger")
    one.look_at_check(scene.place)
    one.hand_in()
    camera.take(one, "waiting")
    other.look_at_check(scene.place)
    other.read({**scene.wrong, "monitor": {}})
    camera.take(other, "look over my reading, not entered")
    other.page.get_by_role("link", name="Change Monitor").click()
    other.write_source(scene.wrong["monitor"])
    other.press("Keep, and look it over")
    other.hand_in()
    camera.take(other, "both handed in")


def comparing(camera: Camera, scene: Scene, one: Nurse, other: Nurse) -> None:
    """The comparison that stops, the cautions, the safety steps."""
    one.look_at_check(scene.place)
    camera.take(one, "do not start")
    one.put_right("device")
    read_both(one, other, scene, scene.right)
    one.look_at_check(scene.place)
    camera.take(one, "consider")
    one.acknowledge_all("The prescriber was asked", asked="Dr Holm (invented)")
    camera.take(one, "consider, the other is waited for")
    one.follow(f"{other.who.printed_name}, ")
    camera.take(one, "consider, on one screen")
    acknowledge_both(one, other, scene)
    one.look_at_check(scene.place)
    camera.take(one, "agreed")


def taking_steps(camera: Camera, scene: Scene, one: Nurse, other: Nurse) -> None:
    """Group by group, in both parts."""
    for nurse in (one, other):
        nurse.look_at_check(scene.place)
        nurse.follow("Go on: safety steps")
    first, second = (one, other) if "I have done" in one.words else (other, one)
    camera.take(first, "steps, the first")
    camera.take(second, "steps, the second waits")
    first.page.get_by_role("link", name="Write it down").first.click()
    camera.take(first, "before any dose")
    first.page.get_by_role("link", name="Back to the steps").click()
    first.page.get_by_role("link", name="Write it down").last.click()
    camera.take(first, "primed volume")
    first.page.get_by_role("link", name="Back to the steps").click()
    first.confirm_what_can_be(scene.baseline, scene.primed[0])
    second.page.reload()
    camera.take(second, "steps, the second verifies")
    for turn in range(6):
        nurse = (second, first)[turn % 2]
        nurse.look_at_check(scene.place)
        if "Go on: safety steps" not in nurse.words:
            break
        nurse.follow("Go on: safety steps")
        nurse.confirm_what_can_be(scene.baseline, scene.primed[1])


def signing(camera: Camera, scene: Scene, one: Nurse, other: Nurse) -> None:
    """Both signatures, the last look, the record."""
    one.look_at_check(scene.place)
    one.follow("Go on: sign")
    camera.take(one, "sign")
    one.sign("a wrong secret")
    camera.take(one, "sign, refused")
    one.sign()
    camera.take(one, "sign, one has signed")
    other.look_at_check(scene.place)
    other.follow("Go on: sign")
    other.sign()
    camera.take(other, "last look")
    other.last_look()
    camera.take(other, "last look, the other is waited for")
    one.look_at_check(scene.place)
    camera.take(one, "ready to start")
    one.follow("Ready to start: last look")
    one.last_look()
    camera.take(one, "last look, both have looked")
    one.start()
    camera.take(one, "started, record being made")
    one.save_pdf(FOLDER)
    camera.take(one, "record")
    one.page.get_by_role("link", name="Stop the device now").click()
    camera.take(one, "stop")
    one.page.get_by_role("button", name="The device was stopped").first.click()
    camera.take(one, "stopped")
    one.go("/")
    camera.take(one, "my checks")


MISREAD = {"lockout": "17 min", "demand_dose": "0.3 mg"}
# Under the drug library's hard limit.
TOO_SHORT = {"lockout": "4 min"}


def settling(ward: Ward, camera: Camera, scene: Scene) -> None:
    """Readings that differ, help, an exception, a check that is ended."""
    _readings_that_differ(ward, camera, at_bed(scene, "14"))
    _a_rule(ward, camera, at_bed(scene, "15"))
    one = ward.nurse("n.ferrow")
    _many_things(ward, camera, one, at_bed(scene, "16"))
    lapsed = at_bed(scene, "17")
    Beforehand(running=ward.running, scene=lapsed).cleared()
    one = ward.nurse("n.ferrow")
    one.look_at_check(lapsed.place)
    one.follow("Ready to start: last look")
    one.last_look(same=False)
    camera.take(one, "clearance has lapsed")
    outside = at_bed(scene, "18")
    Beforehand(running=ward.running, scene=outside).agreed()
    first = ward.nurse("n.ferrow")
    first.look_at_check(outside.place)
    first.follow("Go on: safety steps")
    first.write_down({**scene.baseline, "sedation": "2", "respiratory_rate": "7"}, "2.3")
    camera.take(first, "steps, outside the protocol")


def _readings_that_differ(ward: Ward, camera: Camera, scene: Scene) -> None:
    misread = scene.right_but(device=MISREAD, monitor={"low_spo2": "90 %"})
    Beforehand(running=ward.running, scene=scene).joined().read(scene.right, misread)
    one, other = ward.two()
    one.look_at_check(scene.place)
    camera.take(one, "readings differ")
    for _ in range(2):
        one.look_at_check(scene.place)
        one.read_these_again()
        camera.take(one, "read again, only these")
        read_both(one, other, scene, scene.right, misread)
    one.look_at_check(scene.place)
    camera.take(one, "readings differ, help is needed")
    one.follow("Ask for help")
    camera.take(one, "ask for help")
    one.choose("Our readings do not come together")
    one.press("Ask for help")
    camera.take(one, "help was asked for")
    charge = ward.helper("r.calloway")
    charge.go("/discrepancies")
    camera.take(charge, "discrepancies, one waits for help")
    charge.look_at_check(scene.place, "Look")
    camera.take(charge, "take a request")
    charge.press("Take this request for help")
    camera.take(charge, "settle, readings that differ")


def _a_rule(ward: Ward, camera: Camera, scene: Scene) -> None:
    Beforehand(running=ward.running, scene=scene).joined().read(
        scene.right_but(chart={"sedatives": "none"}, order=TOO_SHORT, device=TOO_SHORT)
    )
    one = ward.nurse("n.ferrow")
    one.look_at_check(scene.place)
    camera.take(one, "a rule stands against it")
    one.ask_for_help("A rule stands against what is ordered")
    camera.take(one, "a rule, help was asked for")
    pharmacist = Helper(ward.device(), ward.running.person("p.varga"), ward.running.address)
    pharmacist.sign_in()
    pharmacist.take(scene.place)
    camera.take(pharmacist, "settle, a rule")
    pharmacist.set_aside("hard limit", "The pain team wants it so for this patient.")
    camera.take(pharmacist, "settle, set aside")
    pharmacist.settle("the two go on from where they are", "Set aside once.")
    one.look_at_check(scene.place)
    camera.take(one, "agreed, a rule set aside")


def _many_things(ward: Ward, camera: Camera, one: Nurse, scene: Scene) -> None:
    Beforehand(running=ward.running, scene=scene).joined().read(
        scene.right_but(
            chart={"allergy": "charted", "other_opioids": "charted", "opioid_tolerant": "no"},
            label={"use_by": "2020-01-31", "amount": "6 mg"},
            device={"demand_dose": "2 mg", "lockout": "6 min", "limit_amount": "none"},
            monitor={"capnography": "off"},
        )
    )
    one.look_at_check(scene.place)
    camera.take(one, "many things")
    one.follow("End this check")
    camera.take(one, "end this check")
    one.page.get_by_role("radio").first.check()
    one.press("End this check")
    camera.take(one, "my checks, after the end")
    one.follow("An infusion had to start without a check")
    camera.take(one, "without a check")
    one.write("Bed", "19")
    one.write("Why no check could be had", "Two arrests at the same time; nobody else was free.")
    one.press("Write it down")
    camera.take(one, "running without a check")


def afterwards(ward: Ward, camera: Camera) -> None:
    """The charge nurse, quality, the administrator."""
    charge = ward.person("r.calloway")
    camera.take(charge, "my checks, charge nurse")
    charge.go("/discrepancies")
    camera.take(charge, "discrepancies")
    analyst = ward.person("q.lindqvist")
    camera.take(analyst, "my checks, quality")
    analyst.go("/export")
    camera.take(analyst, "export")
    administrator = ward.person("a.moreau")
    administrator.go("/accounts")
    camera.take(administrator, "accounts")
    administrator.follow("Nadia Ferrow")
    camera.take(administrator, "account")
    administrator.press("Give a new one-time code")
    camera.take(administrator, "account, one-time code")
    administrator.go("/accounts/new")
    administrator.press("Make the account")
    camera.take(administrator, "new account, faults")
    # An administrator cannot read clinical data by that role alone.
    administrator.device.may_be_refused.add(403)
    administrator.go("/check/nothing")
    camera.take(administrator, "not done")


def handing_over(ward: Ward, camera: Camera, scene: Scene) -> None:
    """One shared device between two people, and a device that was cloned."""
    tablet, clone = ward.device(), ward.device()
    tablet.page.goto(f"{ward.running.address}/sign-in")
    clone.bring(tablet.context.cookies())
    other = ward.nurse("t.osmund", clone)
    one = ward.nurse("n.ferrow", tablet)
    one.open_check(scene.bed)
    one.begin_reading()
    one.read(scene.quiet)
    one.hand_in_and_hand_over()
    camera.take(one, "handed over")
    other.join_from_the_list(scene.place)
    camera.take(other, "sign in anew")


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
        one, other = before_reading(ward, camera, scene)
        reading(camera, scene, one, other)
        comparing(camera, scene, one, other)
        taking_steps(camera, scene, one, other)
        signing(camera, scene, one, other)
        settling(ward, camera, scene)
        handing_over(ward, camera, at_bed(scene, "20"))
        afterwards(ward, camera)
        complaints = [each for one_device in ward.devices for each in one_device.complaints]
    print(f"{len(camera.taken)} screens: {camera.write_sheet()}")
    for each in complaints:
        print(each)


if __name__ == "__main__":
    main()
