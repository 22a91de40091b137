"""The comparison as it stands in report.json, under `references`: plain numbers, strings and lists."""

from collections.abc import Sequence
from typing import Any

from advisor.references.choosing import Chosen
from advisor.references.comparison import NEAREST, RANKS_FROM, Comparison, Row, SongComparison
from advisor.references.grouping import Group, Place, name_of, song_name
from advisor.references.records import Reference
from features.records.balance import Target
from features.records.headline import FEATURES

Document = dict[str, Any]
FEW = 4  # up to so many songs, the difference from each is told


def document(
    chosen: Chosen,
    songs: Sequence[Reference],
    groups: Sequence[Group],
    where: Place | None,
    compared: Comparison | None,
    target: Target | None,
) -> Document:
    """Return what is told about the references; ``compared`` is None when nothing could be compared."""
    return {
        "shelf": chosen.shelf,
        "folder": chosen.folder,
        "songs": [song_name(one) for one in songs],
        "on_the_shelf": len(chosen.songs),
        "notes": list(chosen.notes),
        "label": None if target is None else target.label,
        "ranks": len(songs) >= RANKS_FROM,
        "group": None if where is None else _place(where),
        "groups": [_group(one) for one in groups],
        "splits_tried": [
            {
                "groups": one.count,
                "silhouette": one.silhouette,
                "stability": one.stability,
                "smallest": one.smallest,
                "accepted": one.accepted,
            }
            for one in chosen.model.tried
        ],
        **_comparison(compared),
    }


def _comparison(compared: Comparison | None) -> Document:
    if compared is None:
        return {"loudness_lufs": None, "compared_at_lufs": None, "same_as": None, "more_unusual_than": None, "readings": [], "nearest": []}
    few = len(compared.pairs) <= FEW
    same = [song_name(each.reference) for each in compared.pairs if each.same]
    return {
        "loudness_lufs": compared.loudness_lufs,
        "compared_at_lufs": compared.compared_at_lufs,
        "same_as": same[0] if same else None,
        "more_unusual_than": compared.more_unusual_than,
        "readings": [_reading(row, compared.pairs if few else ()) for row in compared.rows],
        "nearest": [_pair(each) for each in compared.pairs[:NEAREST]],
    }


def _reading(row: Row, pairs: Sequence[SongComparison]) -> Document:
    told, feature = row.standing, row.feature
    place = [each.name for each in FEATURES].index(feature.name)
    return {
        "name": feature.name,
        "words": feature.words,
        "unit": feature.unit,
        "step": feature.step,
        "more": feature.more,
        "less": feature.less,
        "mix": row.mix,
        "unlimited": row.raw,
        "songs": told.songs,
        "median": told.median,
        "low": told.low,
        "high": told.high,
        "spread": told.spread,
        "difference": told.difference,
        "above": told.above,
        "below": told.below,
        "level": row.level or None,
        "from_each": [{"song": song_name(each.reference), "difference": each.differences[place]} for each in pairs],
    }


def _pair(each: SongComparison) -> Document:
    song = each.reference.song
    names = [one.name for one in FEATURES]
    return {
        "song": song_name(each.reference),
        "path": each.reference.path,
        "integrated_lufs": song.integrated_lufs,
        "ends_at_hz": song.bandwidth_hz,
        "differences": dict(zip(names, each.differences, strict=True)),
        "same": each.same,
    }


def _group(one: Group) -> Document:
    return {
        "number": one.number,
        "name": name_of(one),
        "songs": [song_name(each) for each in one.songs],
        "shares": list(one.shares),
    }


def _place(where: Place) -> Document:
    return {
        "number": where.group.number,
        "name": name_of(where.group),
        "inside": where.inside,
        "nearer_than": where.nearer_than,
        "songs": len(where.group.songs),
        "pinned": where.pinned,
    }
