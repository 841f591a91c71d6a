"""A person at a browser: follows links, fills in the forms it was served, and reads each page strictly."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from urllib.parse import urlencode, urljoin, urlsplit
from xml.etree.ElementTree import Element

from flask import Flask
from flask.testing import FlaskClient
from werkzeug.test import TestResponse

from tests.support.html import parse_html
from tests.support.numbers import unsafe
from tests.support.unwanted import unwanted

ORIGIN = "https://localhost"
_ONCE_MORE = {"own_id", "own_secret"}

Given = str | Sequence[str]


@dataclass(frozen=True, kw_only=True)
class Button:
    """A button: its words, the name and value that it posts, and where to, if it says so itself."""

    words: str
    name: str
    value: str
    action: str = ""


@dataclass(frozen=True, kw_only=True)
class ServedForm:
    """A form as it was served: what it holds, and what it offers to choose from."""

    action: str
    held: tuple[tuple[str, str], ...]
    names: frozenset[str]
    choices: dict[str, list[str]]
    buttons: tuple[Button, ...]


@dataclass(frozen=True, kw_only=True)
class Page:
    """One answer of the server."""

    path: str
    response: TestResponse
    tree: Element | None

    @property
    def status(self) -> int:
        """The status code."""
        return self.response.status_code

    @property
    def body(self) -> str:
        """The body as text."""
        return self.response.get_data(as_text=True)

    @property
    def text(self) -> str:
        """The words of the page, one space between them."""
        assert self.tree is not None
        return " ".join("".join(self.tree.itertext()).split())

    @property
    def heading(self) -> str:
        """The words of the first heading."""
        return words_of(next(self.all("h1")))

    @property
    def asks_once_more(self) -> bool:
        """Whether it is the page that asks for id and secret with an act, for the first time."""
        return any(form.names > _ONCE_MORE for form in self.forms()) and "to put right" not in self.text

    def all(self, tag: str) -> Iterator[Element]:
        """Every element of one kind."""
        assert self.tree is not None
        return self.tree.iter(tag)

    def with_id(self, wanted: str) -> Element:
        """The element with an id."""
        return next(each for each in self._elements() if each.get("id") == wanted)

    def links(self) -> dict[str, str]:
        """Where each link leads, by its words."""
        return {words_of(each): each.get("href", "") for each in self.all("a")}

    def forms(self) -> list[ServedForm]:
        """Every form, with its buttons; those that stand elsewhere on the page come last."""
        elsewhere = [each for each in self.all("button") if each.get("form")]
        return [
            _form(each, [one for one in elsewhere if one.get("form") == each.get("id")])
            for each in self.all("form")
        ]

    def form_with(self, words: str) -> tuple[ServedForm, Button]:
        """The first form with a button that has these words in it."""
        for form in self.forms():
            for button in form.buttons:
                if words.lower() in button.words.lower():
                    return form, button
        message = f"{self.path} ({self.status}) has no button {words!r}: {self.text[:500]}"
        raise LookupError(message)

    def _elements(self) -> Iterator[Element]:
        assert self.tree is not None
        return self.tree.iter()


@dataclass(kw_only=True)
class Browser:
    """One person's browser, with cookies and a current page of its own."""

    app: Flask
    # Id and secret of whoever signed in, given again with each act that asks for them; empty to be asked.
    credential: tuple[str, str] | None = None
    client: FlaskClient = field(init=False)
    page: Page = field(init=False)

    def __post_init__(self) -> None:
        self.client = self.app.test_client()

    def get(self, path: str) -> Page:
        """Open a page, following redirects as a browser does."""
        return self._arrive(path, self.client.get(path, base_url=ORIGIN))

    def follow(self, words: str) -> Page:
        """Follow the first link with these words in it."""
        for said, href in self.page.links().items():
            if words.lower() in said.lower():
                return self.get(href)
        message = f"{self.page.path} has no link {words!r}: {self.page.links()}"
        raise LookupError(message)

    def press(self, words: str, **answers: Given) -> Page:
        """Press the button with these words, with these answers in the fields that its form offers."""
        form, button = self.page.form_with(words)
        unknown = set(answers) - form.names
        if unknown:
            message = f"{self.page.path}: the form {words!r} has no {sorted(unknown)}: {sorted(form.names)}"
            raise LookupError(message)
        data = [(name, value) for name, value in form.held if name not in answers]
        for name, given in answers.items():
            for value in [given] if isinstance(given, str) else given:
                offered = form.choices.get(name)
                if offered is not None and value not in offered:
                    message = f"{name} does not offer {value!r}: {offered}"
                    raise LookupError(message)
                data.append((name, value))
        if button.name:
            data.append((button.name, button.value))
        # A way within the page is none to post to.
        action = "" if button.action.startswith("#") else button.action
        return self.post(action or form.action or self.page.path, data)

    def post(self, path: str, data: Sequence[tuple[str, str]]) -> Page:
        """Post fields, whatever was served."""
        response = self.client.post(
            path,
            base_url=ORIGIN,
            data=urlencode(data),
            content_type="application/x-www-form-urlencoded",
            headers={"Origin": ORIGIN},
        )
        page = self._arrive(path, response)
        if self.credential is None or page.tree is None or not page.asks_once_more:
            return page
        form, _ = page.form_with("Do it")
        own = zip(("own_id", "own_secret"), self.credential, strict=True)
        return self.post(path, [*(each for each in form.held if each[0] not in _ONCE_MORE), *own])

    def shows(self, path: str, response: TestResponse) -> Page:
        """Be at a page that was asked for otherwise."""
        return self._arrive(path, response)

    def token(self) -> str:
        """The token that the current page's forms carry."""
        return next(value for form in self.page.forms() for name, value in form.held if name == "csrf_token")

    def _arrive(self, path: str, response: TestResponse) -> Page:
        while response.status_code in (302, 303):
            target = urlsplit(urljoin(path, response.headers["Location"]))
            path = target.path + (f"?{target.query}" if target.query else "")
            response = self.client.get(path, base_url=ORIGIN)
        is_page = response.mimetype == "text/html" and response.get_data() != b""
        tree = parse_html(response.get_data()) if is_page else None
        self.page = Page(path=path, response=response, tree=tree)
        if is_page:
            wrong = [*unsafe(self.page.text), *unwanted(self.page.text)]
            assert wrong == [], (path, wrong)
        return self.page


def words_of(element: Element) -> str:
    """The words of an element, one space between them."""
    return " ".join("".join(element.itertext()).split())


def _form(element: Element, elsewhere: Sequence[Element]) -> ServedForm:
    held: list[tuple[str, str]] = []
    names: set[str] = set()
    choices: dict[str, list[str]] = {}
    for each in element.iter():
        name = each.get("name", "")
        if not name:
            continue
        match each.tag:
            case "input":
                names.add(name)
                held += _of_input(each, name, choices)
            case "textarea":
                names.add(name)
                held.append((name, each.text or ""))
            case "select":
                names.add(name)
                held.append((name, _selected(each, name, choices)))
            case _:
                pass
    return ServedForm(
        action=element.get("action", ""),
        held=tuple(held),
        names=frozenset(names),
        choices=choices,
        buttons=tuple(
            Button(
                words=words_of(each),
                name=each.get("name", ""),
                value=each.get("value", ""),
                action=each.get("formaction", ""),
            )
            for each in (*(one for one in element.iter("button") if not one.get("form")), *elsewhere)
        ),
    )


def _of_input(element: Element, name: str, choices: dict[str, list[str]]) -> list[tuple[str, str]]:
    value = element.get("value", "")
    if element.get("type") in ("radio", "checkbox"):
        choices.setdefault(name, []).append(value)
        return [(name, value)] if element.get("checked") is not None else []
    return [(name, value)]


def _selected(element: Element, name: str, choices: dict[str, list[str]]) -> str:
    options = list(element.iter("option"))
    choices[name] = [each.get("value", "") for each in options]
    chosen = [each.get("value", "") for each in options if each.get("selected") is not None]
    return chosen[0] if chosen else choices[name][0]
