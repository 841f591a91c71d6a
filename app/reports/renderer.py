"""Which renderer made a record's pages: pages can be made again, and compared, only by the same one.

The id travels as an attachment, under the seal and outside what was signed, so that nobody without the
site's key can say that another renderer made them. What the operating system brings to the layout is not in
it: that may move a line, and so the words are what must be the same.
"""

import hashlib
import json
from functools import cache
from importlib.metadata import version

from app.config import root
from app.records.canonical import canonical
from app.records.formats import RENDERER

# Everything of ours that a page comes out of; a test holds it to what rendering imports.
PACKAGES = (
    "accounting",
    "base",
    "comparison",
    "dosing",
    "quantities",
    "records",
    "reports",
    "review",
    "words",
)
_FILES = (
    *(f"app/{package}/**/*.py" for package in PACKAGES),
    "templates/reports/*",
    "static/fonts/*.woff2",
)
LIBRARIES = (
    "brotli",
    "cssselect2",
    "fonttools",
    "jinja2",
    "matplotlib",
    "numpy",
    "pillow",
    "pydyf",
    "pyphen",
    "segno",
    "tinycss2",
    "tinyhtml5",
    "tzdata",
    "weasyprint",
    "zopfli",
)


@cache
def renderer_id() -> str:
    """The digest of all that this renderer consists of: templates, fonts, code, and versions of libraries."""
    made_of = hashlib.sha256()
    for pattern in _FILES:
        for file in sorted(root().glob(pattern)):
            name = file.relative_to(root()).as_posix()
            made_of.update(f"{name} {hashlib.sha256(file.read_bytes()).hexdigest()}\n".encode())
    for library in LIBRARIES:
        made_of.update(f"{library} {version(library)}\n".encode())
    return made_of.hexdigest()


def renderer_content() -> bytes:
    """The bytes of `renderer.json`."""
    return canonical({"format": RENDERER.newest, "renderer": renderer_id()})


def is_this_renderer(content: bytes) -> bool:
    """Whether `renderer.json` names the renderer of this program; a file without one was made by another."""
    try:
        said = json.loads(content)
    except (ValueError, RecursionError):
        return False
    return isinstance(said, dict) and said.get("renderer") == renderer_id()
