"""The `countersign` command; a command's module is loaded only when it is called."""

import sys
from importlib import import_module
from io import StringIO, TextIOWrapper

import click

from app.records.formats import UnknownFormatError

# Name, the module of app.cli that defines a command of that name, and one line of help.
_COMMANDS: dict[str, tuple[str, str]] = {
    "account": ("accounts", "Make, rename, reset or deactivate an account."),
    "backup": ("copies", "Keep a copy of the database, verified, and never with the keys."),
    "balance": ("balance", "Account for an infusion, one case or one case a line."),
    "bed": ("beds", "Add, retire or list the beds of a unit."),
    "demo": ("demo", "Run a demonstration on this machine, or walk through two days of an infusion."),
    "doctor": (
        "doctor",
        "Look whether everything that a server stands on is there; each fault with its mend.",
    ),
    "evaluate": ("evaluate", "Compute one case, or one case a line."),
    "export": ("export", "Export cleared records and their findings."),
    "forms": ("forms", "Write the paper forms of units for the time when the program is down."),
    "install": ("install", "Fill an empty installation: keys, tables, units and the first rules."),
    "invariants": ("invariants", "Check that what is stored keeps the rules that never break."),
    "keys": ("keys", "Make, list, rotate and back up the keys of the site; sign checkpoints."),
    "migrate": ("migrate", "Bring the database to this version of the program."),
    "missed": ("missed", "Estimate what both nurses missed, from findings that were classified."),
    "orders": ("orders", "Take orders that another system left in files."),
    "restore": ("copies", "Bring a copy of the database back, where no database is."),
    "roles": ("roles", "Print the SQL for the two roles at a PostgreSQL server: owner and program."),
    "rows": ("rows", "Make the rows of findings and of ended checks again, from what is stored."),
    "rules": ("rules", "Check, compare, propose, approve, publish and print the rules of the site."),
    "sample": ("sample", "Draw a random sample of ended checks again, by its seed."),
    "senders": ("senders", "Let another system send orders, revoke it, or list those that may."),
    "serve": ("serve", "Serve the application for others, behind a proxy that speaks https."),
    "study": ("study", "Simulate ways of checking: what share of errors each catches."),
    "sweep": ("sweep", "Finish what a crash or a lost connection left."),
    "training": ("training", "Make a copy of an installation one of its own, for training."),
    "unit": ("units", "Call a unit otherwise, or list the units."),
    "verify": ("verify", "Verify a record's PDF by the site's public certificates and a checkpoint."),
}


def _in_one_line(error: Exception) -> str:
    """What an operator can do something about, whatever command it stopped; blank for a bug."""
    from app.config import WrongSettingError
    from app.records.rules import NotPublishedError
    from app.storage import StoreUnavailable

    match error:
        case UnknownFormatError():
            return error.says
        case WrongSettingError() | NotPublishedError():
            return str(error)
        case StoreUnavailable(outcome_known=True, trouble=trouble):
            return f"the database: {trouble.value}; nothing was written"
        case StoreUnavailable():
            return "the database was lost while writing: look whether it was done before doing it again"
        case BrokenPipeError():
            # Whoever read along has gone: click knows what to do.
            return ""
        case OSError(filename=str() as name):
            return f"{name}: {error.strerror}"
        case OSError():
            return str(error.strerror or error)
        case _:
            return ""


def _is_text(word: str) -> bool:
    """Whether it was given in UTF-8: any other byte stands for itself, and can be kept nowhere."""
    try:
        word.encode()
    except UnicodeEncodeError:
        return False
    return "\0" not in word


def _with_streams() -> None:
    """Let a command ask and answer whatever its streams are: closed ones, or of few signs."""
    if sys.stdin is None:
        sys.stdin = StringIO()
    for stream, errors in ((sys.stdin, "replace"), (sys.stdout, "backslashreplace")):
        if isinstance(stream, TextIOWrapper):
            stream.reconfigure(errors=errors)


class _Lazy(click.Group):
    def parse_args(self, ctx: click.Context, args: list[str]) -> list[str]:
        _with_streams()
        if not all(_is_text(each) for each in args):
            click.echo("error: what was given is not written in UTF-8", err=True)
            ctx.exit(2)
        return super().parse_args(ctx, args)

    def list_commands(self, ctx: click.Context) -> list[str]:  # noqa: ARG002  # click's signature
        return sorted(_COMMANDS)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:  # noqa: ARG002
        if cmd_name not in _COMMANDS:
            return None
        module, _ = _COMMANDS[cmd_name]
        command = getattr(import_module(f"app.cli.{module}"), cmd_name)
        assert isinstance(command, click.Command)  # noqa: S101  # what the table says
        return command

    def invoke(self, ctx: click.Context) -> object:
        try:
            return super().invoke(ctx)
        except Exception as error:
            says = _in_one_line(error)
            if not says:
                raise
            click.echo(f"error: {says}", err=True)
            ctx.exit(2)

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:  # noqa: ARG002
        with formatter.section("Commands"):
            formatter.write_dl([(name, _COMMANDS[name][1]) for name in sorted(_COMMANDS)])


@click.group(cls=_Lazy)
@click.version_option(package_name="countersign")
def main() -> None:
    """Blind two-person check of patient-controlled analgesia."""
