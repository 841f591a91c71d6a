"""For a WSGI server behind https: `app.wsgi:app`; `countersign serve` runs it."""

import os
from datetime import UTC, datetime

from app.config import WrongSettingError, load_settings
from app.keys import load_key, new_id
from app.site.installation import Site
from app.site.readiness import find_faults
from app.storage import open_store
from app.web import Parts, create_app
from app.web.log_lines import log_in_lines
from app.web.sweeper import start_sweeper


def _now() -> datetime:
    return datetime.now(UTC)  # noqa: TID251  # the edge: the only clock of the server


# Whoever starts a server reads one line, and no trace of the program.
try:
    _settings = load_settings(os.environ)
except WrongSettingError as wrong:
    raise SystemExit(f"error: {wrong}") from None
if _settings.demo:
    # Plain http and plainly named cookies are for `countersign demo` on loopback alone.
    message = "error: COUNTERSIGN_MODE: a server for others runs in production mode, behind https"
    raise SystemExit(message)
for _fault in find_faults(_settings, _now()):
    raise SystemExit(f"error: {_fault.says}")

log_in_lines()
_site = Site(
    store=open_store(_settings.database_url),
    key=load_key(_settings.key_file),
    site_keys=_settings.site_keys,
    exports=_settings.exports,
)

app = create_app(
    Parts(
        site=_site,
        settings=_settings,
        clock=_now,
        new_id=new_id,
        csrf_key=_site.key.for_purpose("countersign forms 1"),
    )
)

start_sweeper(_site, _now, new_id())
