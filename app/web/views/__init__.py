"""One module a screen: load, act, match, redirect."""

from flask import Blueprint

from app.web.views import signing_in

BLUEPRINTS: tuple[Blueprint, ...] = (signing_in.views,)
