"""The lesson page taken apart: its sections, their words, and the marks of its plots."""

from __future__ import annotations

import re
from dataclasses import dataclass
from xml.etree import ElementTree

SVG = "{http://www.w3.org/2000/svg}"
WORDS_IN = {"h1", "p", "li", "td"}


@dataclass(frozen=True)
class Plot:
    """One SVG; its marks by the name that follows the plot's own in their ids."""

    element: ElementTree.Element

    def words(self) -> list[str]:
        return [text(each) for each in self.element.iter(f"{SVG}text")]

    def named(self, name: str) -> ElementTree.Element | None:
        """The mark of this name."""
        found = [e for e in self.element.iter() if e.get("id", "").endswith(f"-{name}")]
        return found[0] if found else None

    def within(self, name: str) -> Plot:
        """Only one of its axes."""
        part = self.named(name)
        assert part is not None
        return Plot(part)

    def said(self, prefix: str) -> list[str]:
        """The words of the marks prefix-0, prefix-1 and so on, as far as they go."""
        found = []
        while (mark := self.named(f"{prefix}-{len(found)}")) is not None:
            found.append(text(mark))
        return found

    def places(self, name: str) -> list[tuple[float, float]]:
        """Where the symbols of a mark are drawn, in the SVG's own units."""
        mark = self.named(name)
        uses = [] if mark is None else mark.iter(f"{SVG}use")
        return [(float(use.get("x", "nan")), float(use.get("y", "nan"))) for use in uses]

    def axis(self, which: str) -> tuple[float, float]:
        """The a and b of value = a + b × place, from the labelled ticks 'xtick' or 'ytick'."""
        ticks = []
        for tick in self.element.iter():
            if not re.search(rf"-{which}_\d+$", tick.get("id", "")):
                continue
            label = text(tick).replace("−", "-")
            use = next(tick.iter(f"{SVG}use"))
            if re.fullmatch(r"-?[\d.]+", label):
                ticks.append(
                    (float(use.get("x" if which == "xtick" else "y", "nan")), float(label))
                )
        (at, value), (end_at, end_value) = ticks[0], ticks[-1]
        slope = (end_value - value) / (end_at - at)
        return value - slope * at, slope


@dataclass(frozen=True)
class Section:
    words: list[str]
    """Of the section's paragraphs, list items and cells, in order."""
    plots: list[Plot]


def sections(page: str) -> dict[str, Section]:
    """The page's sections by their headings; what stands above the first under ''."""
    body = page[page.index("<body>") : page.index("</body>")] + "</body>"
    root = ElementTree.fromstring(body.replace("<hr>", "<hr/>"))
    found = {
        "": Section([text(each) for each in root if each.tag == "h1"] + words_in(root, "ul"), [])
    }
    for element in root.iter("section"):
        heading = element.find("h2")
        assert heading is not None
        plots = [Plot(svg) for svg in element.iter(f"{SVG}svg")]
        found[text(heading)] = Section(
            [text(each) for each in element.iter() if each.tag in WORDS_IN], plots
        )
    return found


def words_in(root: ElementTree.Element, tag: str) -> list[str]:
    return [text(item) for child in root if child.tag == tag for item in child]


def text(element: ElementTree.Element) -> str:
    return " ".join("".join(element.itertext()).split())
