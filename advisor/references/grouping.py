"""The groups of a shelf as they are kept.

They are read, renewed when the shelf has changed, and used without scikit-learn.
"""

import hashlib
import json
from collections.abc import Sequence
from dataclasses import asdict, dataclass
from difflib import get_close_matches

import numpy as np
from numpy.typing import NDArray

from advisor.app.errors import RequestError
from advisor.references.comparison import prior_spreads, vector
from advisor.references.group_limits import FEWEST_SONGS, LEAST_SILHOUETTE, LEAST_STABLE, SMALLEST_GROUP
from advisor.references.groups import TriedSplit, distances_between, find_groups, k_medoids
from advisor.references.records import MEASURED_BY, Reference
from advisor.report_model import codec
from features.comparison.moderated_statistics import centre_of
from features.records.headline import FEATURES
from features.tone.target import general_target

Floats = NDArray[np.float64]

VERSION = 1  # raised when groups are found in another way: models are then made anew
SHAPE_HZ = (190.0, 8100.0)  # the part of the curve that any format and any sampling rate holds
PERCUSSIVE_SPREAD = 0.13  # between finished songs (docs/references.md)
PERCUSSIVE_WEIGHT = 2.0  # one reading beside 17 bands
SHARED = 0.6  # prior spreads by which a group's median must differ from the others' to be named
MOST_SHARED = 3


@dataclass(frozen=True, slots=True)
class Model:
    """The groups of a shelf.

    For each song's hash its group, for each group its middle song's hash; largest group first.
    """

    key: str
    labels: dict[str, int]
    medoids: tuple[str, ...]
    tried: tuple[TriedSplit, ...]
    centre: tuple[float, ...]
    axes: tuple[tuple[float, ...], ...]


@dataclass(frozen=True, slots=True)
class Group:
    """One group of a shelf.

    Its number from 1, its middle song, all its songs, and what they share against the rest of the shelf.
    """

    number: int
    middle: Reference
    songs: tuple[Reference, ...]
    shares: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Place:
    """Where a mix stands among the groups.

    Its group, whether it lies inside, and how many of the group's songs are further out.
    """

    group: Group
    inside: bool
    nearer_than: int
    pinned: bool


def key_of(songs: Sequence[Reference]) -> str:
    """Return what a model belongs to.

    The songs by content, how they were measured, and how groups are found.
    """
    text = "\n".join([str(VERSION), str(MEASURED_BY), *sorted(reference.sha256 for reference in songs)])
    return hashlib.sha256(text.encode()).hexdigest()


def shape(curve_db: Sequence[float], hz: Sequence[float], percussive_share: float | None) -> list[float]:
    """Return what songs are grouped by.

    The curve from 200 Hz to 8 kHz over the general spread, and the percussive share.
    """
    general = general_target().record
    spreads = dict(zip(general.third_octave_hz, general.spread_db, strict=True))
    values = [
        value / spreads[round_hz] for value, band, round_hz in zip(curve_db, hz, general.third_octave_hz, strict=False) if _inside(band)
    ]
    share = 0.5 if percussive_share is None else percussive_share
    return [*values, PERCUSSIVE_WEIGHT * share / PERCUSSIVE_SPREAD]


def _inside(hz: float) -> bool:
    return SHAPE_HZ[0] < hz < SHAPE_HZ[1]


def _shape_of(reference: Reference) -> list[float]:
    song = reference.song
    return shape(song.third_octave_db, song.third_octave_hz, song.percussive_share)


def _complete(songs: Sequence[Reference]) -> list[Reference]:
    """Return the songs whose spectrum reaches 8 kHz, by hash."""
    return sorted(
        (reference for reference in songs if reference.song.third_octave_hz[-1] > SHAPE_HZ[1] * 0.9), key=lambda reference: reference.sha256
    )


def make_model(songs: Sequence[Reference]) -> Model:
    """Find the groups of a shelf.

    Scikit-learn's work, from twelve songs on.
    """
    complete = _complete(songs)
    rows = np.array([_shape_of(reference) for reference in complete])
    if len(complete) < FEWEST_SONGS or not np.ptp(rows, axis=0).any():
        return _whole(songs, complete, rows)
    grouping = find_groups(rows.tolist())
    sizes = [grouping.labels.count(number) for number in range(len(grouping.medoids))]
    order = sorted(range(len(grouping.medoids)), key=lambda number: (-sizes[number], complete[grouping.medoids[number]].sha256))
    return Model(
        key=key_of(songs),
        labels={reference.sha256: order.index(label) for reference, label in zip(complete, grouping.labels, strict=True)},
        medoids=tuple(complete[grouping.medoids[number]].sha256 for number in order),
        tried=grouping.tried,
        centre=grouping.centre,
        axes=grouping.axes,
    )


def _whole(songs: Sequence[Reference], complete: Sequence[Reference], rows: Floats) -> Model:
    """Return the model of a shelf that is one group.

    Its middle song lies nearest to all others.
    """
    middles = k_medoids(distances_between(rows), 1)[1] if complete else []
    labels = {reference.sha256: 0 for reference in complete}
    return Model(key_of(songs), labels, tuple(complete[middle].sha256 for middle in middles), (), (), ())


def to_json(model: Model) -> str:
    """Write a model."""
    return json.dumps(asdict(model), separators=(",", ":"))


def from_json(text: str | None, songs: Sequence[Reference]) -> Model | None:
    """Read a model.

    None when there is none or it belongs to another state of the shelf.
    """
    if not isinstance(text, str):
        return None
    try:
        model = codec.from_json(Model, text)
    except (ValueError, RecursionError):
        return None
    return model if model.key == key_of(songs) and _fits(model, songs) else None


def _fits(model: Model, songs: Sequence[Reference]) -> bool:
    """Whether a model speaks of these songs, and of groups that it has."""
    complete = {reference.sha256 for reference in _complete(songs)}
    groups, dimensions = range(len(model.medoids)), {len(model.centre), *(len(axis) for axis in model.axes)}
    return (
        model.labels.keys() == complete
        and set(model.medoids) <= complete
        and all(label in groups for label in model.labels.values())
        and len(dimensions) == 1
        and dimensions <= {0, len(_shape_of(songs[0])) if songs else 0}
    )


def tried_words(model: Model) -> tuple[str, ...]:
    """Return in words how well each number of groups held."""
    return tuple(f"Tried {split.count} groups: {_why(split)}" for split in model.tried)


def _why(split: TriedSplit) -> str:
    apart, stable = f"they stand apart by {split.silhouette:.2f}", f"{split.stability:.0%} the same when a song is left out"
    if split.accepted:
        return f"{apart} and are {stable}."
    if split.smallest < SMALLEST_GROUP:
        return f"no; the smallest would have {split.smallest} of the songs, and {SMALLEST_GROUP} are needed."
    if split.silhouette < LEAST_SILHOUETTE:
        return f"no; {apart}, and {LEAST_SILHOUETTE:.2f} are needed (1 is far apart, 0 overlapping)."
    return f"no; they are {stable}, and {LEAST_STABLE:.0%} are needed."


def groups_of(model: Model, songs: Sequence[Reference]) -> tuple[Group, ...]:
    """Return the groups with their songs.

    One group when the shelf does not fall apart.
    """
    by_hash = {reference.sha256: reference for reference in songs}
    made = []
    for number, medoid in enumerate(model.medoids):
        inside = tuple(by_hash[sha256] for sha256, label in sorted(model.labels.items()) if label == number)
        rest = [reference for reference in songs if model.labels.get(reference.sha256, number) != number]
        made.append(Group(number + 1, by_hash[medoid], inside, _shares(inside, rest)))
    return tuple(made)


def _shares(inside: Sequence[Reference], rest: Sequence[Reference]) -> tuple[str, ...]:
    """Return in words what sets a group apart, strongest first."""
    if not inside or not rest:
        return ()
    ours, theirs = (centre_of([vector(reference.song.headline) for reference in songs]) for songs in (inside, rest))
    differences = [
        ((a - b) / spread, feature.more if a > b else feature.less)
        for a, b, spread, feature in zip(ours, theirs, prior_spreads(), FEATURES, strict=True)
        if a is not None and b is not None
    ]
    strong = sorted((difference for difference in differences if abs(difference[0]) >= SHARED), key=lambda difference: -abs(difference[0]))
    return tuple(words for _, words in strong[:MOST_SHARED])


def place(model: Model, songs: Sequence[Reference], own: Sequence[float], pinned: Group | None = None) -> Place:
    """Return where a mix of shape ``own`` stands among groups.

    In the group whose middle song lies nearest, or in a pinned one.
    """
    groups = groups_of(model, songs)
    centre, axes = np.array(model.centre), np.array(model.axes)
    mix = _point(own, centre, axes)
    away = [_away(mix, group, centre, axes) for group in groups]
    chosen = pinned.number - 1 if pinned is not None else int(np.argmin(away))
    group = groups[chosen]
    middle = _point(_shape_of(group.middle), centre, axes)
    members = [_away(middle, reference, centre, axes) for reference in group.songs]
    further = sum(distance > away[chosen] for distance in members)
    return Place(group, further > 0, further, pinned is not None)


def _point(row: Sequence[float], centre: Floats, axes: Floats) -> Floats:
    point: Floats = axes @ (np.array(row) - centre)
    return point


def _away(point: Floats, to: Group | Reference, centre: Floats, axes: Floats) -> float:
    song = to.middle if isinstance(to, Group) else to
    return float(np.linalg.norm(point - _point(_shape_of(song), centre, axes)))


def pick(groups: Sequence[Group], wanted: str, shelf: str) -> Group:
    """Return the group meant, or refuse with the nearest name.

    It is named by its number or its middle song.
    """
    if len(groups) < 2:
        raise RequestError(f"The songs of the shelf '{shelf}' are one group, so ':{wanted}' names nothing. Use --references {shelf}.")
    if wanted.strip().isdigit() and 1 <= int(wanted) <= len(groups):
        return groups[int(wanted) - 1]
    names = {name_of(group).casefold(): group for group in groups}
    near = get_close_matches(wanted.strip().casefold(), list(names), n=1, cutoff=0.5)
    if near and near[0] == wanted.strip().casefold():
        return names[near[0]]
    hint = f" Did you mean '{name_of(names[near[0]])}'?" if near else ""
    known = ", ".join(f"{group.number} ({name_of(group)})" for group in groups)
    raise RequestError(f"The shelf '{shelf}' has no group called '{wanted}'.{hint} There are: {known}.")


def name_of(group: Group) -> str:
    """Return a group's name.

    Its middle song, without the file's ending.
    """
    return song_name(group.middle)


def song_name(reference: Reference) -> str:
    """Return a song's file name without its ending."""
    stem, dot, _ = reference.name.rpartition(".")
    return stem if dot and stem else reference.name
