"""How things are shown: times in the site's zone with its offset, words for what is stored as a code."""

from datetime import date, datetime
from functools import lru_cache
from zoneinfo import ZoneInfo

from flask import Flask, request, url_for

from app.reports.times import day_in_words
from app.site.installation import is_for_training
from app.site.loading import rules_in_force
from app.web import asking
from app.web.asking import EXTENSION
from app.web.models.locked import shift_session_here
from app.words import screens as words
from app.words.checking import on_record_words
from app.words.names import FOR_TRAINING, INVENTED_RULES, answer_words, finding_field_words, none_words


def moment(at: datetime) -> str:
    """A time in the site's zone with its offset: `2 May 2031, 14:10 (+02:00)`."""
    local = at.astimezone(asking.zone())
    offset = local.strftime("%z")
    return f"{local.day} {local:%B %Y, %H:%M} ({offset[:3]}:{offset[3:]})"


def clock(at: datetime) -> str:
    """The time of day alone, for what is minutes away: `14:10`."""
    return f"{at.astimezone(asking.zone()):%H:%M}"


def day(at: datetime) -> str:
    """The day alone, with the offset of its times: `2 May 2031 (+02:00)`."""
    date, _, offset = moment(at).rpartition(" ")
    return f"{date.rpartition(',')[0]} {offset}"


def calendar_day(of: date) -> str:
    """A day that has no time: `2 May 2031`."""
    return f"{of.day} {of:%B %Y}"


def within(at: datetime, begin: datetime) -> str:
    """A time to the second, beside others of the day of `begin`; another day is said: `14:10:05`."""
    local = at.astimezone(asking.zone())
    time = f"{local:%H:%M:%S}"
    return time if day(at) == day(begin) else f"{local.day} {local:%B}, {time}"


def asset(filename: str) -> str:
    """The address of a file of ours; a page asks for a dozen, and each would be put together anew."""
    return _address(request.script_root, filename)


@lru_cache(maxsize=64)
def _address(_where: str, filename: str) -> str:
    return url_for("static", filename=filename)


def prepare(app: Flask) -> None:
    """Give templates the filters and words."""
    made = app.extensions[EXTENSION]
    settings = made.settings
    # Asked once: rules of a site's own are never replaced by invented ones, and a copy stays one.
    with made.site.store.read() as reader:
        rules, training = rules_in_force(reader, made.clock()), is_for_training(reader)
        invented = rules.are_invented
        app.config[asking.ZONE] = ZoneInfo(rules.policy.zone if rules.published else "UTC")
    app.config[asking.TRAINING] = training
    cautions = (FOR_TRAINING if training else "", INVENTED_RULES if invented else "")
    # On a phone the first alone has room.
    app.jinja_env.globals.update(never_for_a_patient=next(filter(None, cautions), ""), training=training)
    app.jinja_env.filters["moment"] = moment
    app.jinja_env.filters["clock"] = clock
    app.jinja_env.filters["day"] = day
    app.jinja_env.filters["calendar_day"] = calendar_day
    app.jinja_env.filters["within"] = within
    app.jinja_env.filters["stated"] = day_in_words
    app.jinja_env.filters["unbroken"] = words.unbroken
    app.jinja_env.globals.update(demo=settings.demo, idle_seconds=int(settings.idle.total_seconds()))
    app.jinja_env.globals.update(
        asset=asset,
        source_words=words.source_words,
        on_record_words=on_record_words,
        answer_words=answer_words,
        none_words=none_words,
        finding_field_words=finding_field_words,
        shift_session_here=shift_session_here,
    )
