"""For a WSGI server behind https: `app.wsgi:app`."""

import os
import secrets
from datetime import UTC, datetime

from app.config import load_settings
from app.keys import load_key, new_id
from app.storage import open_store
from app.web import Parts, create_app
from app.workflow.site import Site

_settings = load_settings(os.environ)
_key = load_key(_settings.key_file)

app = create_app(
    Parts(
        site=Site(store=open_store(_settings.database_url), key=_key),
        settings=_settings,
        clock=lambda: datetime.now(UTC),  # noqa: TID251  # the edge: the only clock of the server
        new_id=new_id,
        coin=lambda: secrets.randbelow(2),
        csrf_key=_key.for_purpose("countersign forms 1"),
    )
)
