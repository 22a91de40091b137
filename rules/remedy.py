"""Remedies as data: what to move, by how much.

A rule proposes one; it never processes sound.
"""

from dataclasses import dataclass

Kind = str  # the name of a module below `advisor.remedies.kinds`


@dataclass(frozen=True, slots=True)
class Remedy:
    """One move with its settings.

    A setting that the kind does not use is ``None``.

    ``part`` is ``mix``, ``percussive``, ``sustained``, ``mid``, ``side``, ``left``, ``right``, an element's name, or the name of a group
    of elements (``drums``, ``bass``, ``music``, ``vocals``). ``key`` is the element that triggers a ``dynamic_bell``: the band dips under
    it. A ``pan`` moves its part by ``gain_db`` of level difference, to the right when positive.
    """

    kind: Kind
    part: str = "mix"
    frequency_hz: float | None = None
    gain_db: float | None = None
    q: float | None = None
    order: int | None = None
    threshold_dbfs: float | None = None
    ratio: float | None = None
    attack_ms: float | None = None
    release_ms: float | None = None
    knee_db: float | None = None
    blend_db: float | None = None
    ceiling_dbfs: float | None = None
    delay_ms: float | None = None
    key: str | None = None
