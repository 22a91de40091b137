"""The elements as they stand in the document: one flat object for each stem, and what concerns all of them."""

from dataclasses import asdict
from typing import Any

from features.records.elements import Element, Elements

Document = dict[str, Any]


def stems_document(elements: Elements | None) -> list[Document] | None:
    """Return one object for each element, its readings side by side; None without stems."""
    return None if elements is None else [_element(one) for one in elements.elements]


def _element(one: Element) -> Document:
    whole = asdict(one)
    parts = [whole.pop(name) or {} for name in ("level", "masking", "level_plan", "headroom")]
    dynamics = whole.pop("dynamics")
    for part in parts:
        whole.update(part)
    headroom = {"headroom_lu_per_db": whole.pop("lu_per_db", None), "headroom_lu_out": whole.pop("lu_out", None)}
    return {**whole, **headroom, "dynamics": dynamics}


def mixture_document(elements: Elements) -> Document:
    """Return what concerns all elements together: how they sum, their groups, kick and bass, the lead."""
    whole = asdict(elements)
    whole.pop("elements")
    return whole
