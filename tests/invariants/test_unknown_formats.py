"""A newer program has written something: it is refused by the name of its format, in plain words."""

import pytest

from tests.invariants.twins import Twin, opened

# Where each format stands in the database, and what is done to it.
NEWER = {
    "countersign.log-entry/9": ("log_entry", "canonical", "kind = 'joined'"),
    "countersign.read/9": ("comparison", "case", "subject = 'sources'"),
    "countersign.comparison/9": ("comparison", "result", "subject = 'sources'"),
    "countersign.record/9": ("frozen", "document", "edition = 1"),
    "countersign.policy/9": ("site_data", "content", "what = 'policy'"),
    "countersign.safety-steps/9": ("site_data", "content", "what = 'safety-steps'"),
    "countersign.library/9": ("site_data", "content", "what = 'library'"),
    "countersign.packs/9": ("site_data", "content", "what = 'packs'"),
}


def changed(twin: Twin, newer: str) -> Twin:
    """What has this format in an older version says that it is of the newer one."""
    table, column, where = NEWER[newer]
    name = newer.partition("/")[0]
    connection = opened(twin.file)
    rows = connection.execute(f'SELECT rowid, "{column}" FROM "{table}" WHERE {where}').fetchall()  # noqa: S608  # of this file
    assert rows
    for rowid, content in rows:
        version = content.partition(f"{name}/".encode())[2][:1]
        written = content.replace(f"{name}/".encode() + version, newer.encode())
        assert written != content
        connection.execute(f'UPDATE "{table}" SET "{column}" = ? WHERE rowid = ?', (written, rowid))  # noqa: S608  # as above
    connection.commit()
    connection.close()
    return twin


@pytest.mark.parametrize("newer", NEWER)
def test_a_newer_format_is_refused_by_its_name(twin: Twin, newer: str) -> None:
    said = [each.what for each in changed(twin, newer).failing()]
    refused = f"has the format {newer}, which this version of the program does not know"
    assert any(refused in each for each in said)


def test_an_envelope_of_a_newer_version_is_refused_by_its_name(twin: Twin) -> None:
    connection = opened(twin.file)
    for rowid, envelope in connection.execute("SELECT rowid, envelope FROM reading").fetchall():
        connection.execute("UPDATE reading SET envelope = ? WHERE rowid = ?", (b"\x09" + envelope[1:], rowid))
    connection.commit()
    connection.close()
    said = {each.what for each in twin.failing()}
    assert any("a sealed envelope has the format countersign.envelope/9," in each for each in said)
