"""People at browsers: what they do and what they see, in the words of the ward."""

import re
from collections.abc import Mapping
from contextlib import suppress
from pathlib import Path

from playwright.sync_api import Error, Locator, Page, expect

from app.cli.demo_site import Demonstrator
from app.records.fields import FIELDS
from app.records.reading import Answers
from app.records.sources import NONE, Field, Form, Source
from app.words.checking import put_right_words
from app.words.names import answer_words
from app.words.screens import source_words
from tests.browser.devices import Device
from tests.support.world import typed

_SOURCE_OF = {source_words(source.value): source for source in Source}
_TOKEN = re.compile(r'name="csrf_token" value="([^"]+)"')
ONWARD = re.compile("^Keep, and (go on|go over it)")
PATIENCE_MS = 30_000
expect.set_options(timeout=PATIENCE_MS)


class Person:
    """Somebody at a device, signed in or about to be."""

    def __init__(self, device: Device, who: Demonstrator, address: str) -> None:
        """Sit down at a device."""
        self.device, self.who, self.address = device, who, address
        # Whom the wristband at the bed names.
        self.patient = ""

    @property
    def page(self) -> Page:
        """The tab in front."""
        return self.device.page

    @property
    def heading(self) -> Locator:
        """The heading of the page."""
        return self.page.get_by_role("heading", level=1)

    @property
    def words(self) -> str:
        """Everything that the page says, one space between the words."""
        return " ".join(self.page.locator("body").inner_text().split())

    def sees(self, *words: str) -> None:
        """The page says each of these."""
        for each in words:
            expect(self.page.locator("body")).to_contain_text(each, use_inner_text=True)

    def does_not_see(self, *words: str) -> None:
        """The page says none of these."""
        for each in words:
            expect(self.page.locator("body")).not_to_contain_text(each, use_inner_text=True)

    def sees_heading(self, words: str | re.Pattern[str]) -> None:
        """The page has this heading."""
        expect(self.heading).to_have_text(words)

    def press(self, words: str | re.Pattern[str]) -> None:
        """Press the button that says so."""
        self.page.get_by_role("button", name=words).click()
        self.device.look()
        self.gives_once_more()

    def gives_once_more(self) -> None:
        """Give id and secret with an act, if it asks for them."""
        if self.page.get_by_role("button", name="Do it").count():
            self.write("Your id", self.who.login)
            self.write("Your secret", self.who.secret)
            self.page.get_by_role("button", name="Do it").click()
            self.device.look()

    def follow(self, words: str) -> None:
        """Follow the first link that says so."""
        self.page.get_by_role("link", name=words).first.click()
        self.device.look()

    def go(self, path: str) -> None:
        """Type an address; if the page in front goes on by itself at that moment, first let it."""
        try:
            self.page.goto(self.address + path)
        except Error:
            self.page.wait_for_load_state("networkidle")
            self.page.goto(self.address + path)
        self.device.look()

    def write(self, label: str, text: str) -> None:
        """Write into the field with this label."""
        self.page.get_by_label(label, exact=True).fill(text)

    def choose(self, words: str) -> None:
        """Choose the answer that says so, one or one of several."""
        one, several = (self.page.get_by_role(each, name=words) for each in ("radio", "checkbox"))
        one.or_(several).check()

    def tick(self, words: str) -> None:
        """Tick what says so, of answers of which several may hold."""
        self.page.get_by_role("checkbox", name=words).check()

    def sign_in(self, pin: str = "") -> None:
        """Sign in for a shift on the own unit, perhaps with six digits for this screen."""
        self.go("/sign-in")
        self.write("Id", self.who.login)
        self.write("Secret", self.who.secret)
        self.page.get_by_label("Unit of this shift").select_option(self.who.unit)
        if pin:
            self.write("Six digits for this screen", pin)
        self.press("Sign in")
        self.sees_heading("My checks")

    def is_signed_in(self) -> None:
        """The same, where signing in is not the matter: its form is sent without a page to write it on."""
        send, address = self.device.context.request, f"{self.address}/sign-in"
        token = _TOKEN.search(send.get(address).text())
        assert token
        said = {
            "csrf_token": token[1],
            "login": self.who.login,
            "secret": self.who.secret,
            "unit": self.who.unit,
        }
        assert send.post(address, form=said, max_redirects=0).status == 303
        self.go("/")
        self.sees_heading("My checks")

    def sign_out(self) -> None:
        """Sign out."""
        self.press("Sign out")
        self.sees_heading("Sign in")

    def look_at_check(self, place: str, how: str = "Go on") -> None:
        """Find the check of a place in the list, and open it."""
        self.go("/")
        self.page.get_by_role("link", name=f"{how}: {place}").click()
        self.device.look()


# A page's fields written in one go, for the tests that are about what comes after the reading.
_WRITE_ALL_AT_ONCE = """(given) => {
  for (const [name, text] of Object.entries(given)) {
    for (const field of document.getElementsByName(name)) {
      if (field.type === "radio") {
        field.checked = field.value === text;
      } else if (field.type === "checkbox") {
        field.checked = true;
      } else {
        field.value = text;
      }
    }
  }
}"""


class Nurse(Person):
    """One of the two; who hurries writes a page's fields all at once instead of one by one."""

    hurries = True

    def open_check(self, bed: str) -> str:
        """Open a check for a bed of the own unit; the code for the colleague."""
        self.follow("Open a check")
        self.write("Bed", bed)
        self.press("Open the check")
        return self.read_code()

    def read_code(self) -> str:
        """The code that a check which was just opened shows once."""
        self.sees_heading("Give this code to your colleague")
        return self.page.get_by_label(re.compile("^Code: ")).inner_text()

    def begin_reading(self) -> None:
        """From the page with the code to the first source."""
        self.follow("Begin my reading")

    def join_by_code(self, code: str) -> None:
        """Find the check by the code that the colleague's screen shows, and join it."""
        self.follow("Join by code")
        self.write("Code", code)
        self.press("Find the check")
        self.press("Join and read alone")

    def join_from_the_list(self, place: str) -> None:
        """Find the check in the unit's list, and join it."""
        self.look_at_check(place, "Join as second")
        self.press("Join and read alone")

    def read(self, answers: Answers) -> tuple[Source, ...]:
        """Read every source that is asked for, up to the look over one's own reading; which they were."""
        read: list[Source] = []
        while (source := self.source_in_front) is not None:
            self.read_source(answers.get(source.value, {}))
            read.append(source)
        self.sees_heading("Go over my reading")
        return tuple(read)

    @property
    def source_in_front(self) -> Source | None:
        """The source that the page asks for, if it asks for one."""
        return _SOURCE_OF.get(self.heading.inner_text())

    def read_source(self, answers: Mapping[str, str]) -> None:
        """Write down what one source says, and go on."""
        self.write_source(answers)
        self.press(ONWARD)

    def write_source(self, answers: Mapping[str, str]) -> None:
        """Write down what one source says: of what the page asks, what there is to say."""
        source = self.source_in_front
        assert source is not None, self.words
        if self.hurries:
            self.page.evaluate(_WRITE_ALL_AT_ONCE, typed(source, answers))
            return
        asked = self.page.locator("legend .label:visible")
        for each in FIELDS[source]:
            # What another answer does not ask for is out of sight.
            if each.name in answers and each.label in asked.all_inner_texts():
                self._answer(self._row(each), each, answers[each.name])

    def _row(self, each: Field) -> Locator:
        label = self.page.get_by_text(each.label, exact=True)
        return self.page.get_by_role("group").filter(has=label)

    def _answer(self, row: Locator, each: Field, answer: str) -> None:
        if answer == NONE and each.may_be_none:
            row.get_by_role("checkbox", name=each.none).check()
            return
        match each.form:
            case Form.QUANTITY:
                number, _, unit = answer.partition(" ")
                row.get_by_role("textbox").fill(number)
                if len(each.units) > 1:
                    row.get_by_role("radio", name=unit, exact=True).check()
            case Form.CHOICE:
                row.get_by_role("radio", name=answer_words(answer), exact=True).check()
            case Form.PACK | Form.LEVEL:
                row.locator(f'input[value="{answer}"]').check()
            case Form.DRUG | Form.FLUID:
                row.get_by_role("combobox").select_option(answer)
            case Form.TEXT | Form.COUNT | Form.NAME | Form.CODE | Form.DATE | Form.MOMENT:
                row.get_by_role("textbox").fill(answer)

    def hand_in(self) -> None:
        """Hand in, and stay at this device."""
        self.page.get_by_role("button", name="Hand in", exact=True).click()
        # To wait, or where both have handed in to the comparison.
        expect(self.heading).not_to_have_text("Go over my reading")
        self.device.look()

    def hand_in_and_hand_over(self) -> None:
        """Hand in, and leave this device to the colleague."""
        self.press("Hand in and hand over this screen")
        self.sees_heading("This screen is free.")

    def read_and_hand_in(self, answers: Answers) -> tuple[Source, ...]:
        """Read what is asked for, and hand it in."""
        read = self.read(answers)
        self.hand_in()
        return read

    def comes_to_the_comparison(self) -> None:
        """Once both have handed in, whoever waits is led there."""
        self.page.reload()
        expect(self.page).to_have_url(re.compile(r"/check/\w+$"))
        self.device.look()

    def sees_do_not_start(self, *words: str) -> None:
        """The comparison's heading says DO NOT START and these words."""
        headline = self.page.locator(".headline", has=self.heading)
        expect(headline).to_contain_text("DO NOT START")
        for each in words:
            expect(headline).to_contain_text(each, use_inner_text=True)

    def put_right(self, source: str) -> None:
        """Say that a source was put right: it is read again as a whole."""
        likely = self.page.get_by_role("button", name=f"{put_right_words(source)}: read the {source} again")
        if likely.count():
            likely.click()
        else:
            self.page.get_by_role("checkbox", name=put_right_words(source)).check()
            self.page.get_by_role("button", name="Put right: read all of it again").click()
        self.device.look()

    def read_these_again(self) -> None:
        """Open the next reading of what differs."""
        self.press("Read these again")

    def acknowledge_all(self, reason: str, *, asked: str = "") -> None:
        """Answer every caution that is the own part, each with a reason."""
        mine = self.page.get_by_role("button", name="I have considered")
        while mine.count():
            self.tick(reason)
            if asked:
                self.write("Who was asked", asked)
            mine.click()
            self.device.look()

    def confirm_what_can_be(self, baseline: Mapping[str, str], primed_volume: str) -> list[str]:
        """Do and confirm, in the own part, every safety step that is open now; the words of those ticked."""
        words = [" ".join(each.split()) for each in self.page.locator("label.choice.wide").all_inner_texts()]
        is_written = self.write_down(baseline, primed_volume)
        if words:
            self._tick_all()
        if words or is_written:
            self.press("what is ticked")
        return words

    def _tick_all(self) -> None:
        boxes = self.page.get_by_role("checkbox")
        if self.hurries:
            boxes.evaluate_all("boxes => boxes.forEach((box) => { box.checked = true; })")
            return
        for each in boxes.all():
            each.check()

    def write_down(self, baseline: Mapping[str, str], primed_volume: str) -> bool:
        """Write what was observed before any dose, and the primed volume, where asked for; whether it was."""
        sedation = self.page.get_by_role("group", name="Sedation")
        volume = self.page.get_by_label("Primed volume")
        patient = self.page.get_by_label("Patient identifier", exact=True)
        asked = (sedation.is_visible(), volume.is_visible(), patient.is_visible())
        if asked[0]:
            self.choose(f"{baseline['sedation']}: ")
            self.write("Respiratory rate", baseline["respiratory_rate"])
            self.write("SpO2", baseline["spo2"])
        if asked[1]:
            self.write("Primed volume", primed_volume)
        if asked[2]:
            self.write("Patient identifier", self.patient)
        return any(asked)

    def sign(self, secret: str | None = None) -> None:
        """Sign the record that the page shows."""
        self.write("Id", self.who.login)
        self.write("Secret", self.who.secret if secret is None else secret)
        self.page.get_by_role("button", name=re.compile("^Sign this record|^Sign$")).click()
        self.device.look()

    def last_look(self, *, same: bool = True) -> None:
        """Look at the device once more, and say whether it shows exactly what was agreed."""
        self.press("The device shows exactly this" if same else "It differs")

    def start(self) -> None:
        """Note that the infusion runs."""
        self.press("Started: the infusion runs")

    def ask_for_help(self, why: str) -> None:
        """Ask a third person to look."""
        self.page.get_by_role("link", name="Ask for help").last.click()
        self.device.look()
        self.choose(why)
        self.press("Ask for help")

    def save_pdf(self, folder: Path) -> Path:
        """Save the record's PDF once it is made, refreshing until then."""
        return save(self, "Save the record as PDF", folder)


def save(person: Person, words: str, folder: Path) -> Path:
    """Follow a link or press a button that gives a file; refresh until it is there, or refreshes itself."""
    wanted = person.page.get_by_role("link", name=words).or_(person.page.get_by_role("button", name=words))
    again = person.page.get_by_role("link", name="Refresh")
    for _ in range(PATIENCE_MS // 250):
        if wanted.count():
            break
        person.page.wait_for_timeout(250)
        with suppress(Error):
            again.click(timeout=1000)
    with person.page.expect_download() as given:
        wanted.click()
        person.gives_once_more()
    given.value.save_as(path := folder / given.value.suggested_filename)
    return path


class Helper(Person):
    """A charge nurse or a pharmacist who takes a request for help."""

    def take(self, place: str) -> None:
        """Find the check that waits for help, and take the request."""
        self.look_at_check(place, "Show")
        self.press("Take this request for help")

    def settle(self, outcome: str, found: str) -> None:
        """Say how it was settled."""
        self.choose(outcome)
        self.write("What was found and done", found)
        self.press("Give the check back to the two")

    def set_aside(self, rule: str, reason: str, prescriber: str = "") -> None:
        """Set one rule aside, this once."""
        self.choose(rule)
        self.write("Why it may be set aside", reason)
        self.write("Prescriber who was asked", prescriber)
        self.press("Set this rule aside once")
