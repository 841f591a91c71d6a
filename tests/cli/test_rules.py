"""`countersign rules`: checked, compared, published by two people, and printed as they stood at a time."""

from datetime import UTC, datetime, timedelta
from pathlib import Path

import click
import pytest
from click.testing import CliRunner, Result

from app.cli import main
from app.cli.installation import now, open_site, settings
from app.keys import new_id
from app.people import Role
from app.workflow.enrolling import enrol
from tests.factories.enrolled import QUICK, newcomer
from tests.factories.invented_site import SEED, Files, changed_rules, install, own_rules

SECRETS = {"p.varga": "seven drawers of blue glass", "a.moreau": "keys hang on the third hook"}
BY_BOTH = "".join(f"{login}\n{secret}\n" for login, secret in SECRETS.items())


@pytest.fixture(autouse=True)
def installed(sqlite_url: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> str:
    """What `install` said."""
    monkeypatch.setenv("DATABASE_URL", sqlite_url)
    monkeypatch.setenv("COUNTERSIGN_KEY_FILE", str(tmp_path / "keys" / "application.key"))
    monkeypatch.setenv("COUNTERSIGN_SITE_KEYS", str(tmp_path / "keys" / "site"))
    made = install()
    assert made.exit_code == 0, made.output
    return made.output


def rules(*words: str, typed: str | None = None) -> Result:
    return CliRunner().invoke(main, ["rules", *words], input=typed)


def shown(*words: str) -> list[str]:
    said = rules("show", *words)
    assert said.exit_code == 0, said.output
    return said.output.splitlines()


def two_people() -> None:
    site = open_site(settings())
    roles = {"p.varga": Role.PHARMACIST, "a.moreau": Role.ADMINISTRATOR}
    people = [
        newcomer(
            id=new_id(),
            login=login,
            staff_number=f"DM-{number}",
            printed_name=login,
            roles=[roles[login].value],
            unit="recovery",
            secret=secret,
        )
        for number, (login, secret) in enumerate(SECRETS.items())
    ]
    enrol(site, now(), people, tools=QUICK)
    site.store.close()


def test_each_value_stands_beside_its_source_and_its_caution() -> None:
    lines = shown()

    caution = "  [invented: set your own]"
    assert f"  limit counts loading: yes  [common practice, no source]{caution}" in lines
    (step,) = (each for each in lines if each.startswith("  loading dose: soft high 3 mg, hard high 6 mg"))
    assert step.endswith(f"common practice, no source]{caution}")
    assert any("200 cm set" in each and "holds 3 mL" in each for each in lines)
    assert [each for each in lines if each.startswith("  ") and not each.endswith(caution)] == []
    assert lines[1].startswith("policy-9: Invented values of an invented site: never for a patient.")


def test_what_a_unit_has_otherwise_stands_under_its_name() -> None:
    lines = shown()

    at = lines.index("Policy, otherwise on Recovery room")
    assert [each.partition("  [")[0] for each in lines[at + 1 : at + 3]] == [
        "  capnography required: with-oxygen-or-at-risk",
        "  pharmacist required: no",
    ]
    (site_wide,) = (each for each in lines[:at] if "capnography required" in each)
    assert site_wide.startswith("  capnography required: always")


def test_what_came_into_force_is_printed_by_the_installation(installed: str) -> None:
    assert "\n".join(shown()) in installed
    assert "Ward 4 East: 36 beds" in installed


def test_an_installation_that_is_filled_keeps_the_sites_own_rules(tmp_path: Path) -> None:
    """It replaced a hospital's limits by the invented ones, and said that it was done."""
    before = shown()
    again = install(own_rules(tmp_path / "own"))

    assert again.exit_code == 2
    assert "this installation is filled already, and nothing was changed" in again.output
    assert shown() == before
    assert CliRunner().invoke(main, ["install"]).exit_code == 2


def test_migrating_leaves_rules_and_log_as_they_are() -> None:
    before = shown()
    done = CliRunner().invoke(main, ["migrate"])

    assert done.exit_code == 0, done.output
    assert shown() == before


def test_rules_that_are_wrong_fill_nothing(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("DATABASE_URL", f"sqlite:///{tmp_path / 'new' / 'new.sqlite3'}")
    monkeypatch.setenv("COUNTERSIGN_KEY_FILE", str(tmp_path / "new" / "application.key"))
    refused = install(changed_rules(tmp_path / "rules", lambda files: files["units.json"].clear()))

    assert refused.exit_code == 2
    assert refused.output == "error: units.json: name one at least\n"
    assert not (tmp_path / "new").exists()


def wrong_and_new(files: Files) -> None:
    files["library.json"]["version"] = "library-own"
    files["library.json"]["drugs"]["morphine"]["limits"][0]["hard_high"] = "30 mg"


def test_checking_says_each_fault_in_one_line_and_needs_no_database(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("DATABASE_URL", "postgresql://nobody@127.0.0.1:1/nothing")
    assert rules("check", str(SEED)).output == "these rules can be published\n"
    refused = rules("check", str(changed_rules(tmp_path / "rules", wrong_and_new)))

    assert refused.exit_code == 2
    first, second = refused.output.splitlines()
    assert first == (
        "error: library.json: drugs.morphine.limits: the highest demand dose after each longest lockout "
        "passes the highest amount per hour"
    )
    assert second.startswith("error: library.json: drugs.morphine.limits: ")


def new_limit(files: Files) -> None:
    files["library.json"]["version"] = "library-own"
    limits = files["library.json"]["drugs"]["morphine"]["limits"]
    limits[0]["hard_high"] = "4 mg"
    del files["library.json"]["drugs"]["fentaNYL"]["concentrations"][1]


def test_what_would_change_is_said_in_the_trades_terms(tmp_path: Path) -> None:
    said = rules("diff", str(changed_rules(tmp_path / "rules", new_limit)))

    assert said.output.splitlines() == [
        (
            "~ morphine: demand dose: soft low 0.5 mg, soft high 2 mg, hard high 3 mg -> "
            "soft low 0.5 mg, soft high 2 mg, hard high 4 mg"
        ),
        "- fentaNYL: 50 mcg/mL: for tolerant patients only",
    ]
    assert rules("diff", str(SEED)).output == "no value differs\n"


def longer_clearance(files: Files) -> None:
    files["policy.json"]["version"] = "policy-own"
    files["policy.json"]["clearance_minutes"] = 20


def test_two_people_publish_and_both_times_can_be_shown(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    two_people()
    folder = str(changed_rules(tmp_path / "rules", longer_clearance))
    later = datetime.now(UTC) + timedelta(hours=1)  # noqa: TID251  # the command reads the clock itself
    monkeypatch.setattr("app.cli.rules.now", lambda: later)
    done = rules("publish", folder, "--why", "longer walks", typed=BY_BOTH)

    assert done.exit_code == 0, done.output
    assert "~ Policy: ready to start, minutes: 15 -> 20\n" in done.output
    assert "in force from now on: policy-own\n" in done.output
    assert all(secret not in done.output for secret in SECRETS.values())
    assert any("ready to start, minutes: 20" in each for each in shown())
    before = f"{later - timedelta(minutes=1):%Y-%m-%dT%H:%M%z}"
    assert any("ready to start, minutes: 15" in each for each in shown("--at", before))
    assert rules("show", "--at", "2001-01-01T00:00+0000").output == "error: no rules were in force then\n"


@pytest.mark.parametrize(
    ("typed", "says"),
    [
        ("", "id and secret do not belong together"),
        (BY_BOTH.replace("seven", "eight"), "id and secret do not belong together"),
        ("".join(2 * [f"p.varga\n{SECRETS['p.varga']}\n"]), "whoever proposed rules does not approve them"),
    ],
)
def test_without_two_people_nothing_is_published(tmp_path: Path, typed: str, says: str) -> None:
    two_people()
    before = shown()
    folder = str(changed_rules(tmp_path / "rules", longer_clearance))
    refused = rules("publish", folder, "--why", "longer walks", typed=typed)

    assert refused.exit_code == 2
    assert says in refused.output
    assert shown() == before


@pytest.mark.parametrize(
    ("name", "asks"),
    [
        ("publish", ["folder", "why", "since", "over"]),
        ("propose", ["folder", "why", "since"]),
        ("approve", ["proposal", "over"]),
    ],
)
def test_a_secret_is_taken_from_no_argument_and_no_variable(name: str, asks: list[str]) -> None:
    group = main.get_command(click.Context(main), "rules")
    assert isinstance(group, click.Group)
    command = group.get_command(click.Context(group), name)

    assert command is not None
    assert [each.name for each in command.params] == asks
    assert all(each.envvar is None for each in command.params)


def typed_by(login: str) -> str:
    return f"{login}\n{SECRETS[login]}\n"


def test_one_proposes_another_tries_and_approves_it(tmp_path: Path) -> None:
    two_people()
    folder = str(changed_rules(tmp_path / "rules", longer_clearance))
    done = rules("propose", folder, "--why", "longer walks", typed=typed_by("p.varga"))
    assert done.exit_code == 0, done.output
    said, _, proposal = done.output.strip().partition(": proposal ")
    assert said.endswith("policy-own waits for an administrator")
    assert f"policy-own: proposal {proposal} of p.varga" in rules("list").output

    for what in (folder, proposal):
        tried = rules("replay", what)
        assert tried.output == (
            "Policy: policy-own in place of policy-9\n"
            "  no check has ended yet, so there is nothing to try it on\n"
        )
    approved = rules("approve", proposal, typed=typed_by("a.moreau"))
    assert approved.exit_code == 0, approved.output
    assert "~ Policy: ready to start, minutes: 15 -> 20\n" in approved.output
    assert "on: policy-own\n" in approved.output
    assert SECRETS["a.moreau"] not in approved.output
    assert "proposed by p.varga, approved by a.moreau" in rules("list").output
    assert any("ready to start, minutes: 20" in each for each in shown())
    again = rules("approve", proposal, typed=typed_by("a.moreau"))
    assert again.output.splitlines()[-1] == "error: it is approved already; nothing was approved"
    # What stands already in the folder is not proposed again.
    none = rules("propose", folder, "--why", "longer walks", typed=typed_by("p.varga"))
    assert none.output.endswith("nothing is new\n")


def test_every_refusal_of_a_proposal_is_one_line_with_its_reason(tmp_path: Path) -> None:
    two_people()
    folder = str(changed_rules(tmp_path / "rules", new_limit))
    why = ("--why", "a wider limit")

    def refused(*words: str, typed: str) -> str:
        ran = rules(*words, typed=typed)
        assert ran.exit_code == 2, ran.output
        return ran.output.splitlines()[-1]

    assert refused("propose", folder, *why, typed=typed_by("a.moreau")) == (
        "error: a.moreau may not propose rules; nothing was proposed"
    )
    assert refused("propose", folder, *why, typed="p.varga\nwrong\n") == (
        "error: id and secret do not belong together; nothing was proposed"
    )
    past = ("--from", "2001-01-01T00:00+0000")
    assert refused("propose", folder, *why, *past, typed=typed_by("p.varga")) == (
        "error: nothing comes into force before now; nothing was proposed"
    )
    done = rules("propose", folder, *why, typed=typed_by("p.varga"))
    proposal = done.output.strip().rpartition(" ")[2]
    assert refused("approve", proposal, typed=typed_by("p.varga")) == (
        "error: whoever proposed it does not approve it; nothing was approved"
    )
    assert refused("approve", proposal, typed=typed_by("a.moreau")) == (
        "error: a.moreau may not approve it: it takes an administrator, for a drug library a second "
        "pharmacist; nothing was approved"
    )
    assert refused("approve", "none", typed="") == (
        "error: there is no proposal none: `countersign rules list` names those that wait"
    )
    wrong = str(changed_rules(tmp_path / "wrong", wrong_and_new))
    assert refused("replay", wrong, typed="").startswith("error: library.json: drugs.morphine.limits: ")


def test_what_was_approved_for_later_is_not_passed_over_silently(tmp_path: Path) -> None:
    two_people()
    folder = str(changed_rules(tmp_path / "rules", longer_clearance))
    later = ("--why", "from June on", "--from", "2099-06-01T07:00+0000")
    assert rules("publish", folder, *later, typed=BY_BOTH).exit_code == 0

    def adults(files: Files) -> None:
        files["policy.json"] |= {"version": "policy-now", "adult_age": 19}

    now_on = ("publish", str(changed_rules(tmp_path / "now", adults)), "--why", "the law")
    refused = rules(*now_on, typed=BY_BOTH)
    assert refused.output.splitlines()[-1] == (
        "error: approved for later, and would never come into force: policy-own; if so, add --over policy-own"
    )
    done = rules(*now_on, "--over", "policy-own", typed=BY_BOTH)
    assert done.output.endswith("in force from now on: policy-now\n")
    assert "policy-own: never comes into force, one approved after it takes its place" in rules("list").output
