from pathlib import Path

import pytest

from app.config import root
from tests.support.templates import extended_by, faults_of

TEMPLATES = root() / "templates"


def sources() -> dict[str, str]:
    """Every template by the name under which others call it."""
    paths = sorted(path for path in TEMPLATES.rglob("*") if path.suffix in {".html", ".svg", ".xml"})
    return {path.relative_to(TEMPLATES).as_posix(): path.read_text(encoding="utf-8") for path in paths}


def test_no_template_breaks_a_rule() -> None:
    templates = sources()
    extended = {name for source in templates.values() for name in extended_by(source)}
    found = [
        f"{name}: {fault}"
        for name, source in templates.items()
        for fault in faults_of(source, is_extended=name in extended)
    ]

    assert templates, "there is no template"
    assert found == []
    assert extended <= templates.keys()


def test_templates_are_only_what_this_test_reads() -> None:
    others = [
        path
        for path in TEMPLATES.rglob("*")
        if path.is_file() and path.suffix not in {".html", ".svg", ".xml"}
    ]

    assert [
        str(Path(path).relative_to(TEMPLATES)) for path in others if path.suffix not in {".css", ".txt"}
    ] == []


@pytest.mark.parametrize(
    ("source", "fault"),
    [
        ("{{ name|safe }}", "the filter safe lets text through unescaped"),
        ("{{ name | upper | safe }}", "the filter safe lets text through unescaped"),
        ("{% filter safe %}{{ name }}{% endfilter %}", "the filter safe lets text through unescaped"),
        ("{{ Markup(name) }}", "Markup lets text through unescaped"),
        ("{% autoescape false %}{{ name }}{% endautoescape %}", "autoescape is never switched"),
        ('{% from "parts.html" import field %}', "field is imported and not used"),
        ('{% from "parts.html" import field as f %}{{ field }}', "f is imported and not used"),
        ('{% import "parts.html" as parts %}', "parts is imported and not used"),
        ("<style>p { color: red }</style>", "a style stands in a file of its own"),
        ("<script>alert(1)</script>", "a script stands in a file of its own"),
        ('<p style="color: {{ colour }}">x</p>', "no style attribute"),
        ('<p {% if red %}style="color: red"{% endif %}>x</p>', "no style attribute"),
        ('<button onclick="go()">x</button>', "no onclick attribute"),
        ('<a href=" JavaScript:go()">x</a>', "no script in href"),
        ("<html><head></head></html>", "a document needs a title"),
        ('{% extends "page.html" %}{% block main %}x{% endblock %}', "a page needs a title of its own"),
        ('{% extends "page.html" %}{% block title %}{% endblock %}', "a page needs a title of its own"),
    ],
)
def test_a_fault_is_found(source: str, fault: str) -> None:
    assert faults_of(source) == [fault]


@pytest.mark.parametrize(
    "source",
    [
        "{{ name }}",
        '{% from "parts.html" import field %}{{ field(name) }}',
        '{% import "parts.html" as parts %}{{ parts.field(name) }}',
        '<script src="{{ address }}" defer></script>',
        '<p class="safe" data-style="x">a safe style</p>',
        "<!doctype html><html><head><title>{% block title %}{% endblock %}</title></head></html>",
        '{% extends "page.html" %}{% block title %}My reading{% endblock %}',
    ],
)
def test_an_honest_template_is_left_alone(source: str) -> None:
    assert faults_of(source) == []


def test_a_template_that_others_build_on_needs_no_title_of_its_own() -> None:
    assert faults_of('{% extends "page.html" %}{% block main %}x{% endblock %}', is_extended=True) == []
