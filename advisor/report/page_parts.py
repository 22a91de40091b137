"""Makes players of links to clips, and wide tables."""

import re
from xml.etree.ElementTree import Element

from markdown import Markdown
from markdown.extensions import Extension
from markdown.treeprocessors import Treeprocessor

CLIP = re.compile(r"audition/step-(\d+)-(?:before|after)\.(?:flac|wav)")  # only our own names of clips are played


class PageParts(Extension):
    """Puts players and wide tables into a page."""

    def extendMarkdown(self, md: Markdown) -> None:  # noqa: N802 - the library's name
        """Add both, after the links and tables are made."""
        md.treeprocessors.register(Players(md), "players", 5)
        md.treeprocessors.register(WideTables(md), "wide_tables", 4)


class Players(Treeprocessor):
    """Puts players side by side in place of links."""

    def run(self, root: Element) -> None:
        """Replace the links below an element."""
        for parent in list(root.iter()):
            clips = None
            for child in list(parent):
                clip = CLIP.fullmatch(child.get("href", "")) if child.tag == "a" else None
                if clip is None:
                    clips = None
                    continue
                if clips is None:
                    clips = Element("div", {"class": "clips"})
                    parent.insert(list(parent).index(child), clips)
                tail, child.tail = child.tail, None
                parent.remove(child)
                clips.append(_player(child, clip[1]))
                if tail and tail.strip():
                    clips.tail, clips = tail, None


def _player(link: Element, step: str) -> Element:
    words, source = link.text or "", link.get("href", "")
    player = Element("div")
    player.text = words
    audio = Element("audio", {"controls": "", "preload": "none", "src": source, "aria-label": f"Step {step}, {words}"})
    audio.append(link)
    player.append(audio)
    return player


class WideTables(Treeprocessor):
    """Puts each table into a region that scrolls sideways."""

    def run(self, root: Element) -> None:
        """Wrap the tables below an element."""
        for parent in list(root.iter()):
            for place, child in enumerate(list(parent)):
                if child.tag == "table":
                    region = Element("div", {"class": "wide", "tabindex": "0", "role": "region", "aria-label": "Table"})
                    region.tail, child.tail = child.tail, None
                    region.append(child)
                    parent[place] = region


def allowed(tag: str, attribute: str, value: str) -> str | None:
    """Return an attribute's value where it may stay.

    Only clips are played.
    """
    return None if (tag, attribute) == ("audio", "src") and not CLIP.fullmatch(value) else value
