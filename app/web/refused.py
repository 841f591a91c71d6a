"""What was refused or ignored is counted in the list of looks: who, when and where, never what was typed."""

from flask import Flask, Response, g, request
from werkzeug.datastructures import ImmutableMultiDict

from app.storage import StoreUnavailable
from app.web import asking, noting
from app.workflow.looking import note_refused

_REFUSED = {400: "forged", 403: "not for the role", 404: "not there"}
_ERRORS = 400


class AskedFor(ImmutableMultiDict[str, str]):
    """The fields that were sent, and which of them anybody asked for."""

    def __getitem__(self, key: str) -> str:
        """One value."""
        self._asked().add(key)
        return super().__getitem__(key)

    def __contains__(self, key: object) -> bool:
        """Whether a field was sent."""
        self._asked().add(key)
        return super().__contains__(key)

    def getlist(self, key: str, type=None):  # type: ignore[no-untyped-def]  # noqa: A002, ANN001, ANN201  # the library's
        """Every value of a field."""
        self._asked().add(key)
        return super().getlist(key, type)

    def _asked(self) -> set[object]:
        found: set[object] = self.__dict__.setdefault("_names", set())
        return found

    @property
    def ignored(self) -> int:
        """How many fields nobody asked for."""
        return len(set(self.keys()) - self._asked())


def count(response: Response) -> Response:
    """After each view: whoever is signed in and asked for what is not for them is listed."""
    what = _what(response) if g.get("seen") is not None else ""
    if what:
        try:
            note_refused(asking.site(), asking.act(), f"{what}: {request.endpoint or 'no such address'}")
        except StoreUnavailable as error:
            # The answer stands: what was done before it is done.
            noting.lost_database(error)
    return response


def _what(response: Response) -> str:
    if g.cannot_be_kept:
        return "cannot be kept"
    if response.status_code in _REFUSED:
        return _REFUSED[response.status_code]
    is_acted_on = g.let_through and request.method == "POST" and response.status_code < _ERRORS
    ignored = request.form.ignored if is_acted_on and isinstance(request.form, AskedFor) else 0
    return f"{ignored} fields ignored" if ignored else ""


def prepare(app: Flask) -> None:
    """Hook it into an application."""
    app.after_request(count)
