"""The application for the browser: server-rendered, working without JavaScript."""

from app.web.asking import Parts
from app.web.factory import create_app

__all__ = ["Parts", "create_app"]
