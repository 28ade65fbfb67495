"""Words on their way into a page: whatever they hold, they stay words."""

from __future__ import annotations

import html
import re

from trainer.disk.outside_text import visible

NOTHING_OUTSIDE = "default-src 'none'; style-src 'unsafe-inline'"
"""Content-Security-Policy (W3C, level 3): the page loads nothing and runs nothing."""
FONTS_WITHIN = f"{NOTHING_OUTSIDE}; font-src data:"
"""The same for a page that has its fonts in it."""
_SPECIAL_IN_CSS = re.compile(r'[\x00-\x1f"\'\\<>&]')


def escape(words: str) -> str:
    """The words as HTML text or as the value of an attribute in quotes."""
    return html.escape(visible(words))


def css_string(words: str) -> str:
    """The words as a string of a style sheet, quotes and all (CSS Syntax Level 3, section 4.3.5).

    Nor can they end the `style` element around it.
    """
    return f'"{_SPECIAL_IN_CSS.sub(_escaped_in_css, visible(words))}"'


def _escaped_in_css(found: re.Match[str]) -> str:
    return f"\\{ord(found[0]):06x} "


def policy(allows: str = NOTHING_OUTSIDE) -> str:
    """The line of a page's head that keeps everything else out."""
    return f'<meta http-equiv="Content-Security-Policy" content="{allows}">'
