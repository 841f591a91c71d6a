"""`countersign training`: make a copy of an installation one for training, and deal cards in it."""

from pathlib import Path

import click

from app.auditing.checkpointing import missing_site_keys
from app.cli.installation import fail, make_site_keys, now, open_site, settings
from app.keys import list_site_keys, new_id, put_back_certificates, write_new
from app.review.cards import NothingUsual
from app.review.mixes import MIXES
from app.site.installation import Site
from app.workflow.founding_copies import FoundedCopy, InUse, NotOfThis, found_copy
from app.workflow.training_cards import Cards, NotForTraining, deal_cards


@click.group()
def training() -> None:
    """Train people in an installation of its own."""


@training.command()
@click.argument("original")
def copy(original: str) -> None:
    """Make this copy of the installation ORIGINAL (its id, as `doctor` says it) one for training.

    It has an id and keys of its own from now on, and says so on every page. Its folder for the keys of the
    site is empty before: with its keys beside it a database is the original.
    """
    made = settings()
    if any(each.here for each in list_site_keys(made.site_keys)):
        fail("COUNTERSIGN_SITE_KEYS: a copy has keys of its own: name an empty folder")
    site = open_site(made)
    match found_copy(site, now(), original=original, installation=new_id()):
        case FoundedCopy(installation=installation):
            _make_keys(site, made.site_keys)
            click.echo(f"this is the installation {installation}, a copy for training of {original}")
        case NotOfThis():
            fail("this is no copy of that installation: `countersign doctor` says of which it is")
        case InUse():
            fail("a server is using this database: stop it first; if it is the original, leave it alone")


def _make_keys(site: Site, folder: Path) -> None:
    """The certificates that came along verify what was sealed before; new keys sign from now on."""
    put_back_certificates(folder, missing_site_keys(site))
    make_site_keys(site)


@training.command()
@click.option("--seed", required=True, help="It deals the same sets again: tell nobody who trains.")
@click.option(
    "--mix",
    "named",
    default=MIXES[0].name,
    show_default=True,
    type=click.Choice([each.name for each in MIXES]),
    help="How often which error: those of `countersign study`.",
)
@click.option("--sets", default=8, show_default=True, type=click.IntRange(1, 100), help="How many sets.")
@click.option("--out", required=True, type=click.Path(dir_okay=False, path_type=Path), help="The PDF.")
def cards(*, seed: str, named: str, sets: int, out: Path) -> None:
    """Print cards of invented beds, in most of which one thing is wrong, for one check each.

    Drugs and limits are those of the rules in force. What is wrong is sealed until the check has ended.
    """
    if out.exists():
        fail(f"{out} is there already")
    if not out.absolute().parent.is_dir():
        fail(f"there is no folder {out.absolute().parent}")
    site = open_site(settings())
    mix = next(each for each in MIXES if each.name == named)
    match deal_cards(site, now(), seed=seed, mix=mix, sets=sets):
        case Cards(first=first, last=last, pdf=pdf):
            write_new(out, pdf, mode=0o644)
            click.echo(f"{out}: sets {first} to {last}; what is wrong is told once the check has ended")
        case NotForTraining():
            fail("this installation is for patients: `countersign install --training` makes another")
        case NothingUsual():
            fail("the rules in force stop every order that cards are made of, or every error of this mix")
