"""Headers on every answer, errors included: nothing is cached, framed, sniffed or fetched from elsewhere."""

from flask import Flask, Response, g, request

from app.web.asking import parts

# Styles and scripts are files of our own origin; nothing is inline, so no nonce is needed.
_POLICY = (
    "default-src 'none'; style-src 'self'; script-src 'self'; img-src 'self'; font-src 'self'; "
    "connect-src 'self'; form-action 'self'; frame-ancestors 'none'; base-uri 'none'; object-src 'none'; "
    "worker-src 'none'"
)
_ALWAYS = {
    "Content-Security-Policy": _POLICY,
    "X-Content-Type-Options": "nosniff",
    "X-Frame-Options": "DENY",
    "Referrer-Policy": "no-referrer",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Permissions-Policy": "camera=(), geolocation=(), microphone=(), payment=()",
}
_YEAR = 365 * 24 * 3600
_DEVICE_LIFE = 2 * _YEAR


def finish(response: Response) -> Response:
    """After each view."""
    for name, text in _ALWAYS.items():
        response.headers[name] = text
    if request.endpoint == "static":
        response.headers["Cache-Control"] = "public, max-age=3600"
        return response
    response.headers["Cache-Control"] = "no-store"
    settings = parts().settings
    if settings.secure_cookies:
        response.headers["Strict-Transport-Security"] = f"max-age={_YEAR}; includeSubDomains"
    if g.get("new_device"):
        response.set_cookie(
            settings.device_cookie,
            g.device,
            max_age=_DEVICE_LIFE,
            secure=settings.secure_cookies,
            httponly=True,
            samesite="Strict",
        )
    return response


def prepare(app: Flask) -> None:
    """Hook it into an application."""
    app.after_request(finish)
