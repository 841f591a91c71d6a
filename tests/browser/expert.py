"""A nurse who knows every page by heart: real keys and presses alone, and always the shorter way.

A press of the pointer takes the hand there and back (H P B B H, 2.1 s): up to ten keys are shorter.
"""

from collections.abc import Callable, Iterable, Mapping

from playwright.sync_api import Locator

from app.records.fields import FIELDS
from app.records.kept import FIRST
from app.records.kinds import SET_UP, Kind
from app.records.reading import Answers, sources_in
from app.records.sources import NONE, Field, Form, Source
from tests.browser.floor import eight_digits
from tests.browser.keystrokes import settle
from tests.browser.people import Person

A_LOOK_MS = 1_000
_MOST_KEYS = 10

# How many times Tab leads from where the keyboard is to a place, and how many from the top of the main part.
_WAY = """(target) => {
  const all = [...document.querySelectorAll("a[href], button, input, select, textarea, summary")];
  const stops = all.filter((each) => {
    if (each.type === "hidden" || each.tabIndex < 0) return false;
    if (!each.checkVisibility({visibilityProperty: true})) return false;
    if (each.type !== "radio") return true;
    const group = [...document.getElementsByName(each.name)];
    return each === (group.find((one) => one.checked) || group[0]);
  });
  const until = (here) => stops.filter((each) =>
    each === here || here.compareDocumentPosition(each) & Node.DOCUMENT_POSITION_PRECEDING).length;
  const active = document.activeElement;
  const passed = active === document.body ? 0 : until(active);
  const place = stops.indexOf(target) + 1;
  return active === document.body ? [place, place - until(document.querySelector("main")) + 2]
    : [place - passed, -1];
}"""
# A scanner types by itself, and Enter after it.
_SCAN = """(line, code) => {
  line.value = code;
  line.form.requestSubmit(line.parentElement.querySelector("button"));
}"""
_VALUES = "all => all.map((each) => each.value)"


class Expert(Person):
    """Somebody with both hands at the keyboard."""

    def sign_in(self, pin: str = "") -> None:
        """Sign in for a shift on the own unit."""
        self.go("/sign-in")
        self.sign_in_here(pin)
        self.sees_heading("My checks")

    def sign_in_here(self, pin: str = "") -> None:
        """The same on the page that is open, perhaps with six digits for this screen."""
        self.write("login", self.who.login)
        self.write("secret", self.who.secret)
        # The device knows where it stands.
        assert self._named("unit").input_value() == self.who.unit
        if pin:
            self.write("pin", pin)
        self.go_on()

    def open_check(self, bed: str) -> None:
        """Open a check for a bed of the own unit, and begin."""
        self.press_at("Open a check")
        self.write("bed", bed)
        self.go_on()

    def join(self, place: str, part: str = "second") -> None:
        """Join the check from the unit's list: shorter than by its code."""
        self.press_at(f"Join as {part}: {place}")
        self.press_at("Join and read alone", kind="button")

    def read(
        self, answers: Answers, *, hand_over: bool = False, kind: Kind = SET_UP, slot: int = FIRST
    ) -> None:
        """Read every source that a check of the kind asks for in this part, and hand in."""
        for source in sources_in(kind.reads_of(slot)):
            assert self.page.url.endswith(f"/read/{source.value}"), self.page.url
            for each in FIELDS[source]:
                # What one of the two answers alone is not asked for here.
                if each.name in answers[source.value] and self._named(each.name).first.is_visible():
                    self._answer(each, answers[source.value][each.name])
            self.go_on()
        # By the way down, which is shorter than past each source.
        self._keys(["Tab", "Enter", "Tab"])
        hand_in = self.page.get_by_role("button", name="Hand in", exact=True)
        assert hand_in.evaluate("each => each === document.activeElement")
        self.press_at("Hand in and hand over this screen" if hand_over else "Hand in", kind="button")

    def read_source(self, source: Source, answers: Mapping[str, str], *, scanned: str = "") -> None:
        """Read one source, by its code first where there is a scanner, and go on."""
        self.go(f"/check/{self.page.url.split('/')[4]}/read/{source.value}")
        if scanned:
            with self.page.expect_navigation():
                self.page.locator("#field-scan").evaluate(_SCAN, scanned)
            settle(self.page)
        for each in FIELDS[source]:
            filled = bool(scanned) and self.page.locator(f"[name='{each.name}_scanned']").count()
            if each.name in answers and not filled:
                self._answer(each, answers[each.name])
        self.go_on()

    def press_at(self, words: str, *, kind: str = "link") -> None:
        """Press what says so and wait for the page that it leads to."""
        target = self.page.get_by_role("button" if kind == "button" else "link", name=words, exact=True)
        is_there = self._reach(target.first)
        with self.page.expect_navigation():
            if is_there:
                self._keys(["Enter"])
            else:
                target.first.click()
        settle(self.page)

    def take_steps(
        self, baseline: Mapping[str, str], volume: str, *, before_going_on: Callable[[], None] = lambda: None
    ) -> int:
        """Answer each step that is open, in the order of the page, and confirm them; how many were ticked."""
        steps = self.page.locator("main .step")
        boxes = self.page.get_by_role("checkbox")
        for each in steps.all():
            if each.get_by_role("checkbox").count():
                self._tick(each.get_by_role("checkbox"))
            if each.locator("[name='spo2']:visible").count():
                self.pick("sedation", baseline["sedation"])
                self.write("respiratory_rate", baseline["respiratory_rate"])
                self.write("spo2", baseline["spo2"])
            if each.locator("[name='volume']:visible").count():
                self.write("volume", volume)
            if each.locator("[name='patient']:visible").count():
                self.write("patient", self.patient)
        ticked = boxes.count()
        before_going_on()
        self.go_on()
        return ticked

    def is_led_on(self) -> None:
        """Wait, without a key, until the page that waits sees what the colleague has done."""
        with self.page.expect_navigation():
            self.page.clock.run_for(A_LOOK_MS)
        settle(self.page)

    def sign(self) -> None:
        """Sign what the page shows."""
        self.write("login", self.who.login)
        self.write("secret", self.who.secret)
        self.go_on()

    def _answer(self, each: Field, answer: str) -> None:
        if answer == NONE and each.may_be_none:
            self._tick(self._named(f"{each.name}_none"))
            return
        match each.form:
            case Form.QUANTITY:
                number, _, unit = answer.partition(" ")
                self.write(each.name, number)
                if len(each.units) > 1:
                    self.pick(f"{each.name}_unit", unit)
            case Form.CHOICE | Form.PACK | Form.LEVEL:
                self.pick(each.name, answer)
            case Form.DRUG | Form.FLUID:
                self.choose_from(each.name, answer)
            case Form.DATE:
                self.write(each.name, eight_digits(answer))
            case Form.TEXT | Form.COUNT | Form.NAME | Form.CODE | Form.MOMENT:
                self.write(each.name, answer)

    def _named(self, name: str) -> Locator:
        return self.page.locator(f"main [name='{name}']")

    def write(self, name: str, text: str) -> None:
        """Write into the field of this name."""
        field = self._named(name)
        self._go_to(field)
        self.page.keyboard.type(text)

    def pick(self, name: str, value: str) -> None:
        """One of a group: the first with space, the others with the arrows, the shorter way round."""
        group = self._named(name)
        values = group.evaluate_all(_VALUES)
        at = values.index(value)
        self._go_to(group.first)
        up, down = len(values) - at, at
        self._keys(["Space"] if not at else ["ArrowDown"] * down if down <= up else ["ArrowUp"] * up)

    def choose_from(self, name: str, value: str) -> None:
        """One of a list: its first letters, as few as lead to it, typed in one go."""
        field = self._named(name)
        # By keys however far it is: pressed with the pointer, the list opens and takes the letters itself.
        assert self._reach(field, most=100)
        offered = [each.lower() for each in field.locator("option").all_inner_texts()]
        words = field.locator(f"option[value='{value}']").inner_text().lower()
        earlier = offered[: offered.index(words)]
        enough = next(
            n for n in range(1, len(words) + 1) if not any(o.startswith(words[:n]) for o in earlier)
        )
        self.page.keyboard.type(words[:enough])
        assert field.input_value() == value

    def go_on(self) -> None:
        """Go on: Enter in a field does so, and after a list it is one stop further, on the button."""
        if self.page.evaluate("document.activeElement.localName === 'select'"):
            self._keys(["Tab"])
        with self.page.expect_navigation():
            self._keys(["Enter"])
        settle(self.page)

    def _keys(self, keys: Iterable[str]) -> None:
        for each in keys:
            self.page.keyboard.press(each)

    def _tick(self, box: Locator) -> None:
        if self._reach(box):
            self._keys(["Space"])
        else:
            box.click()

    def _go_to(self, field: Locator) -> None:
        if not self._reach(field):
            field.click()

    def _reach(self, target: Locator, *, most: int = _MOST_KEYS) -> bool:
        """Take the keyboard to a place if that is the shorter way; else only bring the place into sight."""
        straight, skipping = target.evaluate(_WAY)
        ways = ((straight, ["Tab"] * straight), (skipping, ["Tab", "Enter", *["Tab"] * (skipping - 2)]))
        # What lies before the keyboard is pressed.
        keys, way = min((each for each in ways if each[0] >= 0), default=(most, []))
        if keys < most:
            self._keys(way)
            assert target.evaluate("each => each === document.activeElement"), (target, self.page.url, way)
            return True
        if not target.evaluate("each => each.getBoundingClientRect().bottom <= innerHeight"):
            self._keys(["End"])
        return False
