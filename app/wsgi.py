"""For a WSGI server behind https: `app.wsgi:app`."""

import os
from datetime import UTC, datetime

from app.config import WrongSettingError, load_settings
from app.keys import load_key, load_site_keys, new_id
from app.site.installation import Site
from app.storage import open_store
from app.web import Parts, create_app
from app.web.sweeper import start_sweeper

_settings = load_settings(os.environ)
if _settings.demo:
    # Plain http and plainly named cookies are for `countersign demo` on loopback alone.
    raise WrongSettingError("COUNTERSIGN_MODE", "a server for others runs in production mode, behind https")
_key = load_key(_settings.key_file)


def _now() -> datetime:
    return datetime.now(UTC)  # noqa: TID251  # the edge: the only clock of the server


# Nothing is served that could not be sealed: without usable keys there is no start.
load_site_keys(_settings.site_keys, _now())

_site = Site(store=open_store(_settings.database_url), key=_key, site_keys=_settings.site_keys)

app = create_app(
    Parts(
        site=_site,
        settings=_settings,
        clock=_now,
        new_id=new_id,
        csrf_key=_key.for_purpose("countersign forms 1"),
    )
)

start_sweeper(_site, _now, new_id())
