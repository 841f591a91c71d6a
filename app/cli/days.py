"""Days and moments as the options of commands."""

from datetime import datetime

import click

from app.base.days import FIRST_YEAR, LAST_YEAR, is_near


class _Near(click.DateTime):
    """Of years that anybody can mean: others end the command as any text does that is no date."""

    def convert(self, value: object, param: click.Parameter | None, ctx: click.Context | None) -> datetime:
        """What was written."""
        found: datetime = super().convert(value, param, ctx)
        if not is_near(found):
            self.fail(f"{value!r} is no year from {FIRST_YEAR} to {LAST_YEAR}.", param, ctx)
        return found


DAY = _Near(["%Y-%m-%d"])
MOMENT = _Near(["%Y-%m-%dT%H:%M:%S%z", "%Y-%m-%dT%H:%M%z", "%Y-%m-%d %H:%M%z"])
