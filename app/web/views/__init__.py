"""One module a screen: load, act, match, redirect."""

from flask import Blueprint

from app.web.views import accounts, lists, opening, reading, signing_in, stopping

BLUEPRINTS: tuple[Blueprint, ...] = (
    signing_in.views,
    lists.views,
    opening.views,
    reading.views,
    stopping.views,
    accounts.views,
)
