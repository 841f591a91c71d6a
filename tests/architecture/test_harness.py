import re
import subprocess
import sys
from pathlib import Path
from types import SimpleNamespace
from typing import Any, cast

import pytest
from html5lib.html5parser import ParseError

from app.config import root
from app.keys import hashing
from tests.support.chromium import chromium, whole_chromium
from tests.support.html import parse_html
from tests.support.postgresql import Cluster, binaries
from tests.support.quick import begin_with_the_longest
from tests.support.strictness import TESTS, is_pure, refuse_database_in_pure_tests

PAGE = "<!doctype html><html lang=en><head><title>My reading</title></head><body>{}</body></html>"


# TEST-NET-1 of RFC 5737: an address that is nobody's.
NOBODY = "192.0.2.1"

# What the harness makes of a test: the summary's word for it.
STRICTNESS = {
    "honest": ("def test_it(): pass", "PASSED"),
    "mark": ("import pytest\n@pytest.mark.skip\ndef test_it(): pass", "ERROR"),
    "condition": ("import pytest\n@pytest.mark.skipif(True, reason='x')\ndef test_it(): pass", "ERROR"),
    "call": ("import pytest\ndef test_it(): pytest.skip()", "FAILED"),
    "file": ("import pytest\npytest.skip(allow_module_level=True)", "ERROR"),
    "import": ("import pytest\nmissing = pytest.importorskip('no_such_module')", "ERROR"),
    "nothing": ("import pytest\n@pytest.mark.parametrize('x', [])\ndef test_it(x): pass", "ERROR"),
    "failing": ("import pytest\n@pytest.mark.xfail\ndef test_it(): raise AssertionError", "FAILED"),
    "passing": ("import pytest\n@pytest.mark.xfail\ndef test_it(): pass", "FAILED"),
    "unknown": ("import pytest\n@pytest.mark.no_such_mark\ndef test_it(): pass", "ERROR"),
    "warning": ("import warnings\ndef test_it(): warnings.warn('x')", "FAILED"),
    "network": (f"import socket\ndef test_it(): socket.create_connection(('{NOBODY}', 80), 1)", "FAILED"),
}


@pytest.fixture(scope="module")
def outcomes(tmp_path_factory: pytest.TempPathFactory) -> dict[str, str]:
    """What the harness makes of each of these tests, in one run."""
    folder = tmp_path_factory.mktemp("strictness")
    (folder / "conftest.py").write_text("from tests.conftest import *\n", encoding="utf-8")
    for name, (body, _outcome) in STRICTNESS.items():
        (folder / f"test_{name}.py").write_text(body, encoding="utf-8")
    configured = ["-c", str(root() / "pyproject.toml"), "--rootdir", str(folder)]
    quiet = ["-q", "-rA", "-p", "no:cacheprovider", "-p", "no:randomly", "--continue-on-collection-errors"]
    ran = subprocess.run(
        [sys.executable, "-m", "pytest", *quiet, *configured, str(folder)],
        capture_output=True,
        check=False,
        cwd=root(),
        text=True,
    )
    told = re.findall(
        r"^(PASSED|FAILED|ERROR|SKIPPED|XFAIL|XPASS) \S*test_([a-z]+)\.py", ran.stdout, re.MULTILINE
    )
    return {name: outcome for outcome, name in told}


@pytest.mark.parametrize("name", STRICTNESS)
def test_the_harness_is_strict(outcomes: dict[str, str], name: str) -> None:
    assert outcomes[name] == STRICTNESS[name][1]


def test_tests_of_pure_packages_are_known_by_their_folder() -> None:
    assert is_pure(TESTS / "dosing" / "test_pump.py")
    assert is_pure(TESTS / "records" / "deeper" / "test_fold.py")
    assert not is_pure(TESTS / "storage" / "test_journal.py")
    assert not is_pure(Path("elsewhere") / "dosing" / "test_pump.py")


def test_a_pure_test_that_asks_for_a_database_ends_the_run() -> None:
    pure = SimpleNamespace(
        nodeid="pure", path=TESTS / "dosing" / "test_pump.py", fixturenames=["database_url"]
    )
    other = SimpleNamespace(
        nodeid="other", path=TESTS / "web" / "test_page.py", fixturenames=["database_url"]
    )

    refuse_database_in_pure_tests(cast("Any", [other]))
    with pytest.raises(pytest.UsageError, match="pure is a test of a pure package and asks for database_url"):
        refuse_database_in_pure_tests(cast("Any", [other, pure]))


def test_a_page_is_read_strictly() -> None:
    assert parse_html(PAGE.format("<p>x</p>")).findtext("head/title") == "My reading"
    assert parse_html(PAGE.format("<p>x</p>").encode()).findtext("body/p") == "x"


@pytest.mark.parametrize("body", ["</p>x</div>", "<p id=a id=b>x</p>", "<table><p>x</p></table>", "<div>x"])
def test_a_faulty_page_is_refused(body: str) -> None:
    with pytest.raises(ParseError):
        parse_html(PAGE.format(body))


def test_a_secret_that_was_right_before_makes_no_other_right() -> None:
    kept, other = hashing.hash_secret("seven herons"), hashing.hash_secret("nine herons")
    for _ in range(2):
        assert hashing.verify_secret(kept, "seven herons")
        assert not hashing.verify_secret(kept, "nine herons")
        assert not hashing.verify_secret(other, "seven herons")
        assert not hashing.verify_secret(None, "seven herons")


def test_the_longest_tests_begin_and_all_others_keep_their_order() -> None:
    limits = {"short": None, "long": 300, "shorter": None, "longest": 900, "as long": 300}
    items = [
        SimpleNamespace(
            name=name, get_closest_marker=lambda _name, own=own: own and SimpleNamespace(args=[own])
        )
        for name, own in limits.items()
    ]

    begin_with_the_longest(cast("Any", items))

    assert [each.name for each in items] == ["longest", "long", "as long", "short", "shorter"]


def test_pages_that_differ_in_what_was_drawn_are_read_each_for_itself() -> None:
    page = PAGE.format("<p id={0}><a href=/check/{0}/stop title={1}>{1}</a>&#x26;{0} {0}&#48;</p>")
    for one, other in (
        ("1" * 32, "2" * 64),
        ("ab" * 16, "1" * 64),
        ("ab" * 16, "ab" * 16),
        ("0" * 32, "0" * 64),
    ):
        tree = parse_html(page.format(one, other))
        paragraph, link = tree.find("body/p"), tree.find("body/p/a")
        assert paragraph is not None
        assert link is not None
        assert paragraph.get("id") == one
        assert link.attrib == {"href": f"/check/{one}/stop", "title": other}
        assert (link.text, link.tail) == (other, f"&{one} {one}0")


def test_a_fault_is_found_each_time_and_whatever_was_drawn() -> None:
    for drawn in ("0" * 32, "ab" * 16, "ab" * 16, "12" * 32):
        with pytest.raises(ParseError):
            parse_html(PAGE.format(f"<p id={drawn}>{drawn}</p></div>"))
        with pytest.raises(ParseError):
            parse_html(PAGE.format(f"<{drawn}>"))
        with pytest.raises(ParseError):
            parse_html(PAGE.format(f"<p>&#x{drawn};</p>"))


def test_both_engines_and_the_browser_are_there() -> None:
    assert (binaries() / "postgres").is_file()
    assert Path(chromium()).is_file()
    assert Path(whole_chromium()).is_file()


@pytest.mark.parametrize(
    ("setting", "value"),
    [
        ("log_parameter_max_length", "0"),
        ("log_parameter_max_length_on_error", "0"),
        ("log_error_verbosity", "terse"),
        ("listen_addresses", ""),
    ],
)
def test_the_test_cluster_listens_nowhere_and_logs_no_values(
    postgresql: Cluster, setting: str, value: str
) -> None:
    with postgresql.connect() as connection:
        shown = connection.execute("SELECT current_setting(%s)", [setting]).fetchone()

    assert shown == (value,)
