"""Makes players, tables and headings of the report's text."""

from collections.abc import Mapping
from xml.etree.ElementTree import Element

from markdown import Markdown
from markdown.extensions import Extension
from markdown.treeprocessors import Treeprocessor

from advisor.report.page.players import Players, Times
from advisor.report.page.sounds import Sound

LONGEST_NUMBER = 24  # what is longer says why there is no number
HEADINGS = ("h1", "h2", "h3", "h4", "h5", "h6")


class PageParts(Extension):
    """Puts players and tables that scroll into a page."""

    def __init__(self, sounds: Mapping[str, Sound]) -> None:
        """Take the sounds by the paths of their links."""
        super().__init__()
        self._sounds = sounds

    def extendMarkdown(self, md: Markdown) -> None:  # noqa: N802 - the library's name
        """Add them, after the links and tables are made."""
        for path, sound in self._sounds.items():
            if sound.whole:
                md.inlinePatterns.register(Times(md, path, sound.place.end_s), "times", 25)
        md.treeprocessors.register(Players(md, self._sounds), "players", 7)
        md.treeprocessors.register(Headings(md), "headings", 6)
        md.treeprocessors.register(Tables(md), "tables_of_the_page", 5)


class Headings(Treeprocessor):
    """Brings headings into an order without gaps."""

    def run(self, root: Element) -> None:
        """Set each heading one level below the one above it."""
        above: list[int] = []  # the levels as written of the headings that the present one lies under
        for element in root.iter():
            if element.tag in HEADINGS:
                written = HEADINGS.index(element.tag)
                above = [*(level for level in above if level < written), written]
                element.tag = HEADINGS[len(above) - 1]


class Tables(Treeprocessor):
    """Names each table and lets it scroll sideways."""

    def run(self, root: Element) -> None:
        """Wrap the tables below an element."""
        for parent in list(root.iter()):
            heading = ""
            for place, child in enumerate(list(parent)):
                if child.tag in HEADINGS:
                    heading = "".join(child.itertext())
                elif child.tag == "table":
                    region = Element("div", {"class": "wide", "tabindex": "0", "role": "group", "aria-label": heading or "Table"})
                    region.tail, child.tail = child.tail, None
                    region.append(_named(child, heading))
                    parent[place] = region
                elif child.tag == "pre":
                    child.set("tabindex", "0")


def _named(table: Element, heading: str) -> Element:
    """Return the table with its caption, heads and columns of numbers."""
    caption = Element("caption")
    caption.text = heading or "Table"
    table.insert(0, caption)
    for cell in table.iter():
        if "right" in cell.attrib.pop("style", "") and (cell.tag == "th" or len("".join(cell.itertext())) <= LONGEST_NUMBER):
            cell.set("class", "number")
    for head in table.iter("th"):
        if "".join(head.itertext()).strip():
            head.set("scope", "col")
        else:
            head.tag = "td"
    return table
