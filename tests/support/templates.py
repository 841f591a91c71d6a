"""What a template may not contain, found in its syntax tree and in its markup."""

import re
from collections.abc import Iterator
from html.parser import HTMLParser

from jinja2 import Environment, nodes

Attributes = list[tuple[str, str | None]]

# The same trimming does not matter here; autoescape must be on for `safe` to mean anything.
ENVIRONMENT = Environment(autoescape=True)


def faults_of(source: str, *, is_extended: bool = False) -> list[str]:
    """All that is wrong with a template; `is_extended` where others build on it."""
    tree = ENVIRONMENT.parse(source)
    markup = _Markup()
    markup.feed(_without_jinja(source))
    markup.close()
    return [
        *_escaping_faults(tree),
        *_unused_imports(tree),
        *markup.faults,
        *_title_faults(tree, markup, is_extended=is_extended),
    ]


def extended_by(source: str) -> set[str]:
    """The names of the templates that this one builds on."""
    extends = ENVIRONMENT.parse(source).find_all(nodes.Extends)
    return {node.template.value for node in extends if isinstance(node.template, nodes.Const)}


def _escaping_faults(tree: nodes.Template) -> Iterator[str]:
    if any(node.name == "safe" for node in tree.find_all(nodes.Filter)):
        yield "the filter safe lets text through unescaped"
    if any(node.name == "Markup" for node in tree.find_all(nodes.Name)):
        yield "Markup lets text through unescaped"
    if tree.find(nodes.EvalContextModifier) is not None:
        yield "autoescape is never switched"


def _unused_imports(tree: nodes.Template) -> Iterator[str]:
    used = {node.name for node in tree.find_all(nodes.Name) if node.ctx == "load"}
    imported = {node.target for node in tree.find_all(nodes.Import)}
    for node in tree.find_all(nodes.FromImport):
        imported |= {name if isinstance(name, str) else name[1] for name in node.names}
    for name in sorted(imported - used):
        yield f"{name} is imported and not used"


def _title_faults(tree: nodes.Template, markup: "_Markup", *, is_extended: bool) -> Iterator[str]:
    if markup.is_document and not markup.has_title:
        yield "a document needs a title"
    titles = [block for block in tree.find_all(nodes.Block) if block.name == "title"]
    is_page = tree.find(nodes.Extends) is not None and not is_extended
    if is_page and not any(block.body for block in titles):
        yield "a page needs a title of its own"


def _without_jinja(source: str) -> str:
    """The markup with each expression replaced by a word, statements and comments by nothing."""
    return "".join(
        {"data": value, "variable_begin": "value"}.get(kind, "")
        for _line, kind, value in ENVIRONMENT.lex(source)
    )


class _Markup(HTMLParser):
    """Collects what the content security policy would refuse, and whether there is a title."""

    def __init__(self) -> None:
        super().__init__()
        self.faults: list[str] = []
        self.is_document = False
        self.has_title = False

    def handle_starttag(self, tag: str, attrs: Attributes) -> None:
        self.is_document |= tag == "html"
        self.has_title |= tag == "title"
        if tag == "style":
            self.faults.append("a style stands in a file of its own")
        if tag == "script" and not dict(attrs).get("src"):
            self.faults.append("a script stands in a file of its own")
        for name, value in attrs:
            self._check_attribute(name, value or "")

    def _check_attribute(self, name: str, value: str) -> None:
        if name == "style":
            self.faults.append("no style attribute")
        if re.fullmatch(r"on[a-z]+", name):
            self.faults.append(f"no {name} attribute")
        if value.strip().lower().startswith("javascript:"):
            self.faults.append(f"no script in {name}")
