"""Fails where the application holds a name that nothing uses: no code of it, no migration, no template.

What only tests use is dead too: they would go on testing what nobody runs.
"""

import re
import sys
from collections import Counter
from collections.abc import Iterator
from pathlib import Path

from vulture import Vulture

# A framework calls whatever stands under one of these.
DECORATORS = ["@views.*", "@_apply.register", "@compiles", "@*.command", "@*.group"]

# Why a name stands though none of our code uses it.
REASONS: dict[str, set[str]] = {
    "Click asks a group of commands": {"format_commands"},
    "Alembic reads or calls it of a migration": {"down_revision", "downgrade"},
    "SQLAlchemy calls it of a type": {"load_dialect_impl", "process_bind_param", "process_result_value"},
    "SQLAlchemy reads it of a type or an element": {"impl", "cache_ok", "inherit_cache"},
    "the driver of SQLite reads it": {"isolation_level"},
    "a part of the budget, read by its name in the list of parts": {"graduation"},
    "Flask and Werkzeug call or read it": {
        "request_class",
        "max_content_length",
        "max_form_memory_size",
        "parameter_storage_class",
        "_get_file_stream",
        "log_exception",
    },
    "the library of metrics calls it": {"collect"},
    "Werkzeug reads it of an answer": {"direct_passthrough"},
    "Jinja reads it": {"undefined", "lstrip_blocks", "trim_blocks"},
    "the parser of HTML calls it": {"handle_starttag", "handle_endtag", "handle_data"},
    "the renderer of PDFs calls it for each address": {"fetch"},
    "the server that runs others calls it of an application": {"load_config"},
    "the library that seals calls or reads it": {
        "async_sign_raw",
        "register_extensions",
        "system_time",
        "_update_meta",
    },
    "the library that signs reads it": {"max_header_length", "max_payload_length"},
    "a field, stored with all others of its row or event": {
        "retired_at",
        "withdrawn_at",
        "withdrawn_by",
        "declared_by",
        "and_by",
        "told_at",
        "added_by",
        "revoked_by",
        "account_left",
        "pseudonym_a",
        "pseudonym_b",
        "settled_in_round",
        "settled_by",
        "reason_a",
        "reason_b",
        "was_lapsed",
        "rounds_voided",
        "escalated",
        "handed_in_at",
    },
    "an answer of what is kept, asked of its event by its row's name": {"total_amount", "total_volume"},
    "EXPORT.md promises it to whoever reads an export": {"read_back"},
    "reads what a PDF carries without believing it, as another's reader would": {"read_attachments"},
    "a published chart or interval that completes the others, held by its published example": {
        "c_chart",
        "exact_share",
    },
    "what tests hold the schema against": {"MUTABLE"},
    "a choice of a site, named by its value in the policy": {"MONTH_FIRST"},
}

# Sure, to the tool, are only arguments and lines that are never reached: ruff and mypy look after these.
SURE = 100


def main() -> int:
    """The exit status: 0 where every name has a use or a reason, and every reason is still needed."""
    unused = {**_unused_names(), **_unused_constants()}
    excused = set().union(*REASONS.values())
    faults = [f"{unused[name]}: nothing uses {name}" for name in unused.keys() - excused]
    faults += [f".ci/dead_names.py: {name} is used now, or gone" for name in excused - unused.keys()]
    for fault in sorted(faults):
        print(fault)
    return 1 if faults else 0


def _unused_names() -> dict[str, str]:
    """Where each name stands that neither code nor a template uses."""
    looked = Vulture(ignore_decorators=DECORATORS)
    looked.scavenge(["app", "migrations"])
    told = set(_told_by_templates())
    found = [each for each in looked.get_unused_code() if each.confidence < SURE and each.name not in told]
    return {each.name: f"{each.filename.relative_to(Path.cwd())}:{each.first_lineno}" for each in found}


def _told_by_templates() -> Iterator[str]:
    """Every word in the code of a template; its text, which is anybody's words, does not count."""
    for path in Path("templates").rglob("*.html"):
        for code in re.findall(r"{[{%].*?[%}]}", path.read_text(encoding="utf-8"), re.DOTALL):
            yield from re.findall(r"\w+", code)


def _unused_constants() -> dict[str, str]:
    """Where each private constant stands that its module never mentions again; the tool passes them over."""
    found: dict[str, str] = {}
    for path in Path("app").rglob("*.py"):
        code = path.read_text(encoding="utf-8")
        mentions = Counter(re.findall(r"\w+", code))
        assigned = re.findall(r"^(_[a-z]\w*(?:, \w+)*)(?:: .+)? = ", code, re.MULTILINE | re.IGNORECASE)
        named = (name for names in assigned for name in names.split(", "))
        found |= {name: str(path) for name in named if mentions[name] == 1}
    return found


if __name__ == "__main__":
    sys.exit(main())
