"""The comparison as it stands in the report, under `references`."""

from collections.abc import Sequence
from typing import cast

from advisor.references.choosing import Chosen
from advisor.references.comparison import NEAREST, RANKS_FROM, Comparison, Row, SongComparison
from advisor.references.grouping import Group, Place, name_of, song_name
from advisor.references.records import Reference
from advisor.report_model.references import (
    GroupPlace,
    NearSong,
    ReferenceGroup,
    ReferenceReading,
    ReferencesSection,
    SongDifference,
    TriedSplit,
    Unusual,
)
from features.records.balance import Target
from features.records.headline import FEATURES

FEW = 4  # up to so many songs, the difference from each is told
NAMES = tuple(feature.name for feature in FEATURES)


def references_section(
    chosen: Chosen,
    songs: Sequence[Reference],
    groups: Sequence[Group],
    where: Place | None,
    compared: Comparison | None,
    target: Target | None,
) -> ReferencesSection:
    """Return what is told about the references.

    ``compared`` is None when nothing could be compared.
    """
    pairs = () if compared is None else compared.pairs
    few = pairs if len(pairs) <= FEW else ()
    return ReferencesSection(
        shelf=chosen.shelf,
        folder=chosen.folder,
        songs=tuple(song_name(song) for song in songs),
        on_the_shelf=len(chosen.songs),
        notes=chosen.notes,
        label=None if target is None else target.label,
        ranks=len(songs) >= RANKS_FROM,
        group=None if where is None else _place(where),
        groups=tuple(_group(group) for group in groups),
        splits_tried=tuple(
            TriedSplit(split.count, split.silhouette, split.stability, split.smallest, split.accepted) for split in chosen.model.tried
        ),
        loudness_lufs=None if compared is None else compared.loudness_lufs,
        compared_at_lufs=None if compared is None else compared.compared_at_lufs,
        same_as=next((song_name(pair.reference) for pair in pairs if pair.same), None),
        more_unusual_than=None if compared is None else compared.more_unusual_than,
        readings=() if compared is None else tuple(_reading(row, few) for row in compared.rows),
        nearest=tuple(_near_song(pair) for pair in pairs[:NEAREST]),
    )


def _reading(row: Row, pairs: Sequence[SongComparison]) -> ReferenceReading:
    standing, feature = row.standing, row.feature
    place = NAMES.index(feature.name)
    return ReferenceReading(
        name=feature.name,
        words=feature.words,
        unit=feature.unit,
        step=feature.step,
        more=feature.more,
        less=feature.less,
        mix=row.mix,
        unlimited=row.raw,
        songs=standing.songs,
        median=standing.median,
        low=standing.low,
        high=standing.high,
        spread=standing.spread,
        difference=standing.difference,
        above=standing.above,
        below=standing.below,
        level=cast("Unusual", row.level) if row.level else None,
        from_each=tuple(SongDifference(song_name(pair.reference), pair.differences[place]) for pair in pairs),
    )


def _near_song(pair: SongComparison) -> NearSong:
    song = pair.reference.song
    differences = dict(zip(NAMES, pair.differences, strict=True))
    return NearSong(song_name(pair.reference), pair.reference.path, song.integrated_lufs, song.bandwidth_hz, differences, pair.same)


def _group(group: Group) -> ReferenceGroup:
    return ReferenceGroup(group.number, name_of(group), tuple(song_name(song) for song in group.songs), tuple(group.shares))


def _place(where: Place) -> GroupPlace:
    return GroupPlace(where.group.number, name_of(where.group), where.inside, where.nearer_than, len(where.group.songs), where.pinned)
