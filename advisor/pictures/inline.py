"""Makes an element of a page of what matplotlib draws.

Without what a page does not need, with ids and colours that are the page's own.
"""

from collections.abc import Iterator
from xml.etree.ElementTree import Element, fromstring, tostring

from advisor.pictures.colours import COLOURS

DRAWN_WITH = {colour.light: colour.variable for colour in COLOURS}
LEFT_OUT = ("metadata", "style")
TEXT_ALIGNMENT = ("text-anchor", "font-size")
REFERENCES = ("href", "clip-path")


def inlined(drawing: str, name: str, alternative: str) -> str:
    """Return a drawing as an element with its text alternative."""
    drawn = fromstring(drawing)  # noqa: S314 - our own drawing
    root = Element("svg", {"viewBox": drawn.get("viewBox", ""), "role": "img", "aria-label": alternative, "stroke-linejoin": "round"})
    used = {target for element in drawn.iter() for target in _targets(element)}
    root.extend(safe for child in drawn for safe in _kept(child, name, used))
    return tostring(root, encoding="unicode")


def _targets(element: Element) -> Iterator[str]:
    for attribute, value in element.attrib.items():
        if _local(attribute) in REFERENCES:
            yield value.removeprefix("url(").removesuffix(")").removeprefix("#")


def _kept(element: Element, name: str, used: set[str]) -> Iterator[Element]:
    """Yield what is left of an element.

    Itself, what it held, or nothing.
    """
    tag = _local(element.tag)
    if tag in LEFT_OUT:
        return
    attributes = dict(_attributes(element, name, used))
    children = [safe for child in element for safe in _kept(child, name, used)]
    if tag == "g" and not attributes:
        yield from children
    elif children or (tag not in {"g", "defs"} and not (attributes.get("fill") == "none" and "stroke" not in attributes)):
        safe = Element(tag, attributes)
        safe.text = element.text if tag == "text" else None
        safe.extend(children)
        yield safe


def _attributes(element: Element, name: str, used: set[str]) -> Iterator[tuple[str, str]]:
    is_text = _local(element.tag) == "text"
    for attribute, value in element.attrib.items():
        local = _local(attribute)
        if local == "id":
            if value in used:
                yield "id", f"{name}-{value}"
        elif local in REFERENCES:
            yield local, value.replace("#", f"#{name}-", 1)
        elif local == "style":
            yield from _styles(value, is_text)
        elif local == "d":
            yield "d", " ".join(_rounded(part) for part in value.split())
        elif local == "transform":
            if not (is_text and value.startswith("rotate(-0 ")):
                yield "transform", value
        else:
            yield local, _rounded(value)


def _styles(style: str, is_text: bool) -> Iterator[tuple[str, str]]:
    """Yield a style as attributes; type is the page's."""
    stated = dict(part.split(": ", 1) for part in style.split("; ") if part)
    for key, value in stated.items():
        if is_text and key.startswith("font") and key not in TEXT_ALIGNMENT:
            continue
        yield key, DRAWN_WITH.get(value, value)


def _rounded(text: str) -> str:
    """Return a number as far as an eye can tell it, and any other text as it is.

    >>> _rounded("54.545455"), _rounded("40.0"), _rounded("M")
    ('54.5', '40', 'M')
    """
    try:
        return f"{float(text):.1f}".removesuffix(".0")
    except ValueError:
        return text


def _local(name: object) -> str:
    return str(name).rpartition("}")[2]
