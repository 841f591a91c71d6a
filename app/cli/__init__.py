"""The `countersign` command; a command's module is loaded only when it is called."""

from importlib import import_module

import click

from app.records.formats import UnknownFormatError

# Name, the module of app.cli that defines a command of that name, and one line of help.
_COMMANDS: dict[str, tuple[str, str]] = {
    "account": ("accounts", "Make, reset or deactivate an account."),
    "balance": ("balance", "Account for an infusion, one case or one case a line."),
    "bed": ("beds", "Add, retire or list the beds of a unit."),
    "demo": ("demo", "Run a demonstration on this machine, or walk through a whole set-up."),
    "evaluate": ("evaluate", "Compute one case, or one case a line."),
    "export": ("export", "Export cleared records and their findings."),
    "install": ("install", "Make the keys, the tables and the first published rules."),
    "invariants": ("invariants", "Check that what is stored keeps the rules that never break."),
    "keys": ("keys", "Make, list, rotate and back up the keys of the site; sign checkpoints."),
    "rules": ("rules", "Print the rules in force, each value with where it comes from."),
    "sweep": ("sweep", "Finish what a crash or a lost connection left."),
    "verify": ("verify", "Verify a record's PDF by the site's public certificates and a checkpoint."),
}


class _Lazy(click.Group):
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
        except UnknownFormatError as unknown:
            click.echo(f"error: {unknown.says}", err=True)
            ctx.exit(2)

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:  # noqa: ARG002
        with formatter.section("Commands"):
            formatter.write_dl([(name, _COMMANDS[name][1]) for name in sorted(_COMMANDS)])


@click.group(cls=_Lazy)
@click.version_option(package_name="countersign")
def main() -> None:
    """Blind two-person check of patient-controlled analgesia."""
