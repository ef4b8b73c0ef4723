"""A QR code (ISO/IEC 18004): its modules by the library `segno`, drawn as one path."""

from __future__ import annotations

import segno
from markupsafe import Markup

QUIET = 4
"""Modules left white all around, as the norm asks for."""
_PICTURE = Markup(
    '<svg class="code" viewBox="0 0 {side} {side}" role="img" aria-label="{title}">'
    '<path d="{path}"/></svg>'
)


def code_picture(text: str, title: str) -> Markup:
    """The code of a text, with corrections enough for a creased sheet.

    Args:
        title: what it is, for whoever does not see it.
    """
    modules = segno.make(text, error="m", micro=False).matrix
    path = "".join(
        f"M{QUIET + x} {QUIET + y}h1v1h-1z"
        for y, row in enumerate(modules)
        for x, is_dark in enumerate(row)
        if is_dark
    )
    return _PICTURE.format(side=len(modules) + 2 * QUIET, title=title, path=path)
