"""A very small browser: keeps cookies, follows redirects, fills in the forms it was served."""

import http.cookiejar
import urllib.error
import urllib.parse
import urllib.request
from dataclasses import dataclass, field
from html.parser import HTMLParser


@dataclass(kw_only=True)
class Button:
    """A button of a form: its words, and what it posts."""

    words: str = ""
    name: str = ""
    value: str = ""
    action: str = ""


@dataclass(kw_only=True)
class Form:
    """A served form: where it posts, what it holds already, its buttons and the names that it offers."""

    action: str
    method: str
    held: list[tuple[str, str]] = field(default_factory=list)
    names: set[str] = field(default_factory=set)
    choices: dict[str, list[str]] = field(default_factory=dict)
    buttons: list[Button] = field(default_factory=list)


@dataclass(kw_only=True)
class Page:
    """A page as it was served."""

    url: str
    status: int
    content: bytes
    forms: list[Form]
    links: list[tuple[str, str]]
    text: str

    def form_with(self, words: str) -> tuple[Form, Button]:
        """The first form that has a button with these words in it."""
        for form in self.forms:
            for button in form.buttons:
                if words.lower() in button.words.lower():
                    return form, button
        offered = [button.words for form in self.forms for button in form.buttons]
        message = f"{self.url} has no button “{words}”; it offers {offered}: {self.text[:400]}"
        raise LookupError(message)

    def has_button(self, words: str) -> bool:
        """Whether some form has a button with these words in it."""
        return any(words.lower() in button.words.lower() for form in self.forms for button in form.buttons)

    def link_with(self, words: str) -> str:
        """Where the first link with these words in it leads."""
        for href, said in self.links:
            if words.lower() in said.lower():
                return href
        message = f"{self.url} has no link “{words}”; it offers {[said for _, said in self.links]}"
        raise LookupError(message)


class Browser:
    """One person's browser, with cookies of its own."""

    def __init__(self, address: str) -> None:
        """Begin with no cookies at an address."""
        self._cookies = http.cookiejar.CookieJar()
        self._opener = urllib.request.build_opener(urllib.request.HTTPCookieProcessor(self._cookies))
        self._address = address

    def get(self, path: str) -> Page:
        """Fetch a page."""
        return self._open(urllib.request.Request(urllib.parse.urljoin(self._address, path)))  # noqa: S310  # loopback

    def submit(self, page: Page, words: str, answers: dict[str, str | list[str]] | None = None) -> Page:
        """Press the button with these words, with these answers in the fields the form offers."""
        form, button = page.form_with(words)
        answers = answers or {}
        unknown = set(answers) - form.names
        if unknown:
            message = f"{page.url}: the form “{words}” has no {sorted(unknown)}; it has {sorted(form.names)}"
            raise LookupError(message)
        data = [(name, value) for name, value in form.held if name not in answers]
        for name, given in answers.items():
            data += [(name, each) for each in ([given] if isinstance(given, str) else given)]
        if button.name:
            data.append((button.name, button.value))
        target = urllib.parse.urljoin(page.url, button.action or form.action or page.url)
        request = urllib.request.Request(target, data=urllib.parse.urlencode(data).encode())  # noqa: S310  # loopback
        request.add_header("Origin", self._address)
        return self._open(request)

    def _open(self, request: urllib.request.Request) -> Page:
        try:
            answer = self._opener.open(request, timeout=30)
        except urllib.error.HTTPError as error:
            answer = error
        with answer:
            content = answer.read()
            reader = _Reader()
            if "html" in answer.headers.get("Content-Type", ""):
                reader.feed(content.decode())
            return Page(
                url=answer.geturl(),
                status=answer.status,
                content=content,
                forms=reader.forms,
                links=reader.links,
                text=" ".join("".join(reader.words).split()),
            )


class _Reader(HTMLParser):
    """Collects forms, links and words."""

    def __init__(self) -> None:
        super().__init__()
        self.forms: list[Form] = []
        self.links: list[tuple[str, str]] = []
        self.words: list[str] = []
        self._form: Form | None = None
        self._button: Button | None = None
        self._link: str | None = None
        self._link_words = ""
        self._select = ""

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        given = {name: value or "" for name, value in attrs}
        has = {name for name, _ in attrs}
        match tag:
            case "form":
                self._form = Form(action=given.get("action", ""), method=given.get("method", "get"))
                self.forms.append(self._form)
            case "input":
                self._input(given, has)
            case "select" | "textarea" if self._form is not None:
                self._form.names.add(given.get("name", ""))
                self._select = given.get("name", "") if tag == "select" else ""
            case "option" if self._form is not None:
                self._form.choices.setdefault(self._select, []).append(given.get("value", ""))
                if "selected" in has:
                    self._form.held.append((self._select, given.get("value", "")))
            case "button":
                self._button = Button(
                    name=given.get("name", ""),
                    value=given.get("value", ""),
                    action=given.get("formaction", ""),
                )
            case "a":
                self._link, self._link_words = given.get("href", ""), ""
            case _:
                pass

    def _input(self, given: dict[str, str], has: set[str]) -> None:
        if self._form is None or not given.get("name"):
            return
        name, kind = given["name"], given.get("type", "text")
        self._form.names.add(name)
        if kind in ("radio", "checkbox"):
            self._form.choices.setdefault(name, []).append(given.get("value", "on"))
            if "checked" not in has:
                return
        self._form.held.append((name, given.get("value", "on" if kind == "checkbox" else "")))

    def handle_endtag(self, tag: str) -> None:
        match tag:
            case "form":
                self._form = None
            case "select":
                self._select = ""
            case "button" if self._button is not None:
                if self._form is not None:
                    self._form.buttons.append(self._button)
                self._button = None
            case "a" if self._link is not None:
                self.links.append((self._link, " ".join(self._link_words.split())))
                self._link = None
            case _:
                pass

    def handle_data(self, data: str) -> None:
        self.words.append(data)
        if self._button is not None:
            self._button.words += data
        if self._link is not None:
            self._link_words += data
