"""The application over the parts of a test: put together once, for its routes take long to compile."""

from copy import copy

from flask import Flask

from app.config import Settings
from app.web import Parts, create_app
from app.web.asking import EXTENSION

_made: dict[Settings, Flask] = {}


def application(parts: Parts) -> Flask:
    """An application of these parts; routes, hooks and templates are those of the first with its settings."""
    if parts.settings not in _made:
        _made[parts.settings] = create_app(parts)
    app = copy(_made[parts.settings])
    app.extensions = {EXTENSION: parts}
    return app
