"""The mix against its references."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

Unusual = Literal["like", "little", "noticeable", "outside"]


@dataclass(frozen=True, slots=True)
class SongDifference:
    """The distance of the mix from a song's reading."""

    song: str
    difference: float | None


@dataclass(frozen=True, slots=True)
class ReferenceReading:
    """One reading of the mix against those of the songs."""

    name: str
    words: str
    unit: str
    step: float
    more: str
    less: str
    mix: float
    unlimited: float
    songs: int
    median: float
    low: float
    high: float
    spread: float
    difference: float
    above: int
    below: int
    level: Unusual | None
    from_each: tuple[SongDifference, ...]


@dataclass(frozen=True, slots=True)
class NearSong:
    """A song to listen to beside the mix."""

    song: str
    path: str
    integrated_lufs: float
    ends_at_hz: float | None
    differences: Mapping[str, float | None]
    same: bool


@dataclass(frozen=True, slots=True)
class ReferenceGroup:
    """Songs of a shelf that are alike."""

    number: int
    name: str
    songs: tuple[str, ...]
    shares: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class GroupPlace:
    """Where the mix lies against the groups."""

    number: int
    name: str
    inside: bool
    nearer_than: int
    songs: int
    pinned: bool


@dataclass(frozen=True, slots=True)
class TriedSplit:
    """A number of groups, and whether that division is stable."""

    groups: int
    silhouette: float
    stability: float
    smallest: int
    accepted: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class ReferencesSection:
    """The mix against the chosen songs."""

    shelf: str | None
    folder: str | None
    songs: tuple[str, ...]
    on_the_shelf: int
    notes: tuple[str, ...]
    label: str | None
    ranks: bool
    group: GroupPlace | None
    groups: tuple[ReferenceGroup, ...]
    splits_tried: tuple[TriedSplit, ...]
    loudness_lufs: float | None = None
    compared_at_lufs: float | None = None
    same_as: str | None = None
    more_unusual_than: int | None = None
    readings: tuple[ReferenceReading, ...] = ()
    nearest: tuple[NearSong, ...] = ()
