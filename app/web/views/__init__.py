"""One module a screen: load, act, match, redirect."""

from flask import Blueprint

from app.web.views import (
    accounts,
    beds,
    comparison,
    exporting,
    findings,
    infusions,
    keys,
    lists,
    opening,
    pausing,
    reading,
    record,
    settling,
    shift_sheet,
    signing,
    signing_in,
    starting,
    stepping,
    stopping,
    verifying,
)

BLUEPRINTS: tuple[Blueprint, ...] = (
    signing_in.views,
    lists.views,
    opening.views,
    reading.views,
    stopping.views,
    accounts.views,
    comparison.views,
    settling.views,
    stepping.views,
    signing.views,
    starting.views,
    record.views,
    findings.views,
    exporting.views,
    keys.views,
    infusions.views,
    pausing.views,
    shift_sheet.views,
    verifying.views,
    beds.views,
)
