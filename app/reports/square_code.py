"""A square code (QR, ISO/IEC 18004) as SVG, black on white whatever is around it."""

import io

import segno

from app.reports.canvas import Svg

_QUIET = 4
"""The clear modules around a code that ISO/IEC 18004 asks for."""

_MASK = 3
"""Any of the eight can be read; trying them all for the fairest takes five times as long."""


def square_code(text: str, title: str) -> Svg:
    """One `svg` element without styles; up to some 15 % of the code may be worn or dirty."""
    code = segno.make_qr(text, error="m", boost_error=False, mask=_MASK)
    written = io.BytesIO()
    code.save(
        written,
        kind="svg",
        xmldecl=False,
        svgns=True,
        border=_QUIET,
        omitsize=True,
        light="#fff",
        dark="#000",
        title=title,
        svgclass="square-code",
        lineclass=None,
        nl=False,
    )
    return Svg(written.getvalue().decode())
