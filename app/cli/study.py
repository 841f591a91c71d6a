"""`countersign study`: what share of errors each way of checking catches, by simulation."""

import os
from collections.abc import Iterator
from concurrent.futures import ProcessPoolExecutor
from fractions import Fraction
from functools import partial
from multiprocessing import get_context
from pathlib import Path

import click

from app.cli.folders import replace_file
from app.cli.rules import read, refuse
from app.config import root
from app.records.rules import LIBRARY, POLICY, without_sources
from app.reports.study_picture import study_picture
from app.review.mixes import EXPECTS, LED, SHARED
from app.review.plan import Findings, Study, add_up, run, tasks
from app.review.study import Assumed
from app.review.true_cases import Against
from app.words.study import DEPENDS, assumptions, coverage_rows, nothing_row, percent, share_rows, ways_row
from app.workflow.rule_faults import faults_of, unit_ids
from app.workflow.rule_files import RulesWrong

_FOLDER = click.Path(exists=True, file_okay=False, path_type=Path)
_PICTURE = click.Path(dir_okay=False, writable=True, path_type=Path)
_PERCENT = click.IntRange(0, 100)


@click.command()
@click.option("--seed", default="1", show_default=True, help="The same seed draws the same errors again.")
@click.option(
    "--draws", default=2000, show_default=True, type=click.IntRange(1), help="Errors of each kind and mix."
)
@click.option(
    "--estimates",
    default=2000,
    show_default=True,
    type=click.IntRange(1),
    help="Estimates of what both missed, under each condition.",
)
@click.option(
    "--errors", default=100, show_default=True, type=click.IntRange(1), help="Errors behind each estimate."
)
@click.option("--expects", type=_PERCENT, help="How often somebody reads what they expect, in percent.")
@click.option("--led", type=_PERCENT, help="How often a primed second person follows the first, in percent.")
@click.option("--shared", type=_PERCENT, help="How often one cause rules both readers, in percent.")
@click.option(
    "--rules", type=_FOLDER, help="The rules the engine judges by; else those of the demonstration."
)
@click.option("--processes", type=click.IntRange(1), help="How many; else one for each processor.")
@click.option("--picture", type=_PICTURE, help="A file for the picture: .svg, or .png.")
def study(  # noqa: PLR0913  # one for each option
    *,
    seed: str,
    draws: int,
    estimates: int,
    errors: int,
    expects: int | None,
    led: int | None,
    shared: int | None,
    rules: Path | None,
    processes: int | None,
    picture: Path | None,
) -> None:
    """Simulate ways of checking: one reader, two primed, two blind, and two blind with the engine.

    Prints what share of errors each catches, by kind of error and by published mixes, with 95 % intervals,
    and how often the estimate of what both missed holds the truth; then what is assumed, and each source.
    """
    asked = Study(
        seed=seed,
        draws=draws,
        estimates=estimates,
        errors=errors,
        assumed=Assumed(
            expects=_share(expects, EXPECTS.share),
            led=_share(led, LED.share),
            shared=_share(shared, SHARED.share),
        ),
    )
    against = _against(rules or root() / "seed_data")
    found = _carry_out(asked, against, processes or os.cpu_count() or 1)
    for line in _lines(asked, found):
        click.echo(line)
    if picture is not None:
        as_pixels = picture.suffix.lower() == ".png"
        replace_file(picture, study_picture(found, asked.assumed.shared, as_pixels=as_pixels))


def _share(given: int | None, otherwise: Fraction) -> Fraction:
    return otherwise if given is None else Fraction(given, 100)


def _against(folder: Path) -> Against:
    files = read(folder)
    faults = faults_of(files, unit_ids(files))
    if faults:
        refuse(RulesWrong(faults=faults))
    return Against(
        policy=without_sources(files.published[POLICY])["engine"],
        library=without_sources(files.published[LIBRARY])["drugs"],
    )


def _carry_out(asked: Study, against: Against, processes: int) -> Findings:
    """In processes that draw the same whoever draws what, so that their number changes nothing."""
    planned = list(tasks(asked))
    one = partial(run, against=against)
    if processes == 1:
        return add_up(map(one, planned))
    with ProcessPoolExecutor(processes, mp_context=get_context("forkserver")) as pool:
        return add_up(pool.map(one, planned))


def _lines(asked: Study, found: Findings) -> Iterator[str]:
    halves = {Fraction(0): "The two read independently"}
    shared = asked.assumed.shared
    halves[shared] = f"One cause rules both readers in {percent(shared)} of checks"
    for share, head in halves.items():
        yield f"\nSimulated. {head}: errors caught of {asked.draws} each (95 % interval)"
        yield from ways_row()
        yield from share_rows(found, share)
        yield nothing_row(found, share)
    yield f"\n{DEPENDS}"
    yield f"\nWhat both missed, of {asked.errors} errors: the interval should hold the truth in 95 %"
    yield from coverage_rows(found.covered)
    yield "\nWhat is assumed, and where it comes from"
    yield from (f"  {each}" for each in assumptions(asked.assumed))
