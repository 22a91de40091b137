"""Puts players in place of links to sounds.

Without scripts each file has the browser's own player; with them, `players.js` makes one player of those that belong together.
"""

import re
from collections.abc import Iterator, Mapping
from xml.etree.ElementTree import Element, SubElement

from markdown import Markdown
from markdown.inlinepatterns import InlineProcessor
from markdown.treeprocessors import Treeprocessor

from advisor.report.page.sounds import Sound

_CLOCK = r"\d{1,3}:[0-5]\d(?::[0-5]\d)?"
TIME = rf"(?<![\w:.])({_CLOCK})(?:-({_CLOCK}))?(?![\w:]|\.\d)"


class Players(Treeprocessor):
    """Puts players in place of links to sounds."""

    def __init__(self, md: Markdown, sounds: Mapping[str, Sound]) -> None:
        """Take the sounds by the paths of their links."""
        super().__init__(md)
        self._sounds = sounds

    def run(self, root: Element) -> None:
        """Replace the links below an element."""
        for parent in list(root.iter()):
            for link in list(parent):
                sound = self._sounds.get(link.get("href", "")) if link.tag == "a" else None
                if sound is not None and link in list(parent):
                    _replace(parent, link, sound)


def _replace(parent: Element, link: Element, sound: Sound) -> None:
    """Put a pair where its first link stands, in place of its links; the whole mix after the text that names it."""
    made = player(sound)
    if sound.whole:
        parent.append(made)
        return
    paths = [path for path, _ in sound.files]
    place = list(parent).index(link)
    others = [child for child in list(parent)[place + 1 :] if child.tag == "a" and child.get("href") in paths]
    made.tail = "".join([link.tail or "", *(other.tail or "" for other in others)]).strip() or None
    parent[place] = made
    for other in others:
        parent.remove(other)


def player(sound: Sound) -> Element:
    """Return the player of a sound.

    It is made of spans, so that it may stand wherever a link may.
    """
    kind = "player whole" if sound.whole else "player"
    length_s = sound.place.end_s - sound.place.start_s
    made = Element("span", {"class": kind, "role": "group", "aria-label": sound.title})
    made.set("data-start", f"{sound.place.start_s:.3f}")
    made.set("data-length", f"{length_s:.3f}")
    for path, word in sound.files:
        clip = SubElement(made, "span", {"class": "clip"})
        clip.text = f"{word} "
        audio = SubElement(clip, "audio", {"controls": "", "preload": "none", "src": path, "aria-label": f"{sound.title}, {word.lower()}"})
        SubElement(audio, "a", {"href": path}).text = word
    made.extend(_marks(sound))
    return made


def _marks(sound: Sound) -> Iterator[Element]:
    """Yield the sound's marks, at seconds from its start."""
    for mark in sound.marks:
        made = Element("span", {"class": "mark", "title": mark.words})
        made.set("data-from", f"{mark.place.start_s - sound.place.start_s:.3f}")
        made.set("data-to", f"{mark.place.end_s - sound.place.start_s:.3f}")
        yield made


class Times(InlineProcessor):
    """Makes links of times, for the whole mix's player."""

    ANCESTOR_EXCLUDES = ("a",)

    def __init__(self, md: Markdown, path: str, length_s: float) -> None:
        """Take the path and the length of the whole mix."""
        super().__init__(TIME, md)
        self._path = path
        self._length_s = length_s

    def handleMatch(  # type: ignore[override] # noqa: N802 - the library's name; its stub knows the older processors' form only
        self, m: re.Match[str], data: str
    ) -> tuple[Element | str, int, int]:
        """Return the link to the mix at that time."""
        del data
        if _seconds(m[1]) >= int(self._length_s):
            return m[0], m.start(0), m.end(0)
        times = ",".join(str(_seconds(shown)) for shown in m.groups() if shown)
        link = Element("a", {"class": "time", "href": f"{self._path}#t={times}"})
        link.text = m[0]
        return link, m.start(0), m.end(0)


def _seconds(shown: str) -> int:
    """Return a time of the song as it is shown, in seconds."""
    return sum(int(part) * 60**place for place, part in enumerate(reversed(shown.split(":"))))
