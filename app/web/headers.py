"""Headers on every answer, errors included: nothing is cached, framed, sniffed or fetched from elsewhere."""

from datetime import timedelta

from flask import Flask, Response, g, request

from app.web.asking import parts
from app.web.cookies import keep_cookie

# Styles and scripts are files of our own origin; nothing is inline, so no nonce is needed.
_POLICY = (
    "default-src 'none'; style-src 'self'; script-src 'self'; img-src 'self'; font-src 'self'; "
    "connect-src 'self'; form-action 'self'; frame-ancestors 'none'; base-uri 'none'; object-src 'none'; "
    "worker-src 'none'"
)
_ALWAYS = {
    "X-Content-Type-Options": "nosniff",
    "Referrer-Policy": "no-referrer",
    "Cross-Origin-Resource-Policy": "same-origin",
}
_OF_DOCUMENTS = {
    "Content-Security-Policy": _POLICY,
    "X-Frame-Options": "DENY",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Permissions-Policy": "camera=(), geolocation=(), microphone=(), payment=()",
}
_WITH_DOCUMENTS = _ALWAYS | _OF_DOCUMENTS
# They mean nothing for what no browser shows by itself, and a page asks for a dozen such files.
_NO_DOCUMENTS = (".css", ".js", ".woff2")
_YEAR = timedelta(days=365)
_ONLY_ENCRYPTED = f"max-age={int(_YEAR.total_seconds())}; includeSubDomains"
_DEVICE_LIFE = 2 * _YEAR


def finish(response: Response) -> Response:
    """After each view."""
    is_file = request.endpoint == "static" and response.mimetype != "text/html"
    is_no_document = is_file and request.path.endswith(_NO_DOCUMENTS)
    response.headers.extend(_ALWAYS if is_no_document else _WITH_DOCUMENTS)
    if request.endpoint == "static":
        response.headers["Cache-Control"] = "public, max-age=3600"
        _lighten(response)
        return response
    response.headers["Cache-Control"] = "no-store"
    settings = parts().settings
    if settings.secure_cookies:
        response.headers["Strict-Transport-Security"] = _ONLY_ENCRYPTED
    if g.get("new_device"):
        keep_cookie(response, settings.device_cookie, g.device, kept=_DEVICE_LIFE, strict=False)
    return response


def _lighten(response: Response) -> None:
    """Without what says nothing of a file: that it is shown, as files are, and its time beside its tag."""
    response.headers.remove("Content-Disposition")
    response.headers.remove("Last-Modified")


def prepare(app: Flask) -> None:
    """Hook it into an application."""
    app.after_request(finish)
