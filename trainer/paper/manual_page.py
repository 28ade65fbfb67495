"""A text of ours with headings, lists and examples (a part of Markdown) as a page to print."""

from __future__ import annotations

import re
from collections.abc import Iterator
from itertools import groupby

from trainer.paper.page_words import escape
from trainer.paper.parts import head

_STYLE = """
@page { size: A4; margin: 14mm 16mm; @bottom-right { content: counter(page) } }
body { max-width: 178mm; margin: 0 auto; color: #111; font: 10pt/1.4 "Noto Serif", "DejaVu Serif",
  Liberation, Georgia, serif; }
h1 { font-size: 17pt; margin: 0 0 3mm }
h2 { font-size: 12.5pt; margin: 5mm 0 1.5mm; border-bottom: 0.3mm solid #111; break-after: avoid }
p { margin: 1.5mm 0 }
ul { margin: 1mm 0; padding-left: 5mm }
li { margin: 0.6mm 0; break-inside: avoid }
code, pre { font: 9pt "DejaVu Sans Mono", "Noto Sans Mono", monospace; background: #eee }
code { padding: 0 0.6mm }
pre { padding: 1.5mm 2mm; margin: 1.5mm 0; break-inside: avoid }
"""


def manual_page(text: str) -> str:
    """The whole document; its title is the first line."""
    title = text.partition("\n")[0].lstrip("# ")
    return f"{head(title, _STYLE)}\n{chr(10).join(_elements(text))}\n</body>\n</html>\n"


def _elements(text: str) -> Iterator[str]:
    for place, part in enumerate(re.split(r"^```.*\n", text, flags=re.MULTILINE)):
        if place % 2:
            yield f"<pre>{escape(part.rstrip())}</pre>"
            continue
        blocks = (block for block in part.split("\n\n") if block.strip())
        for block in blocks:
            yield from _block(block.strip("\n"))


def _block(block: str) -> Iterator[str]:
    """A heading, a paragraph or a list."""
    level = len(block) - len(block.lstrip("#"))
    if level:
        yield f"<h{level}>{escape(block.lstrip('# '))}</h{level}>"
        return
    lines = re.sub(r"\n(?!- )\s*", " ", block).split("\n")
    for listed, items in groupby(lines, lambda line: line.startswith("- ")):
        if listed:
            yield f"<ul>{''.join(f'<li>{_words(item[2:])}</li>' for item in items)}</ul>"
        else:
            yield f"<p>{_words(' '.join(items))}</p>"


def _words(text: str) -> str:
    """What stands between backquotes is set as it is typed."""
    parts = text.split("`")
    return "".join(
        f"<code>{escape(part)}</code>" if n % 2 else escape(part) for n, part in enumerate(parts)
    )
