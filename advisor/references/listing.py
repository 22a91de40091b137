"""What the command line shows of a shelf."""

from collections.abc import Sequence

from advisor.app.history_words import counted
from advisor.references.comparison import usual_of
from advisor.references.group_limits import FEWEST_SONGS
from advisor.references.grouping import Group, name_of, song_name
from advisor.references.shelf import Shelf
from features.comparison.moderated_statistics import median_of
from features.records.headline import FEATURES, Feature
from features.sound.clock import clock


def shelf_text(shelf: Shelf) -> str:
    """Return a shelf's songs, and the range of their readings."""
    lines = [f"{shelf.name}: {counted(len(shelf.songs), 'song', 'songs')}", ""]
    width = max((len(song_name(reference)) for reference in shelf.songs), default=0)
    for reference in sorted(shelf.songs, key=lambda reference: reference.name.casefold()):
        song = reference.song
        ends = "" if song.bandwidth_hz is None else f", nothing above {song.bandwidth_hz / 1000:.1f} kHz"
        length = clock(round(song.duration_s))
        lines.append(f"  {song_name(reference):{width}s}  {length}  {song.integrated_lufs:6.1f} LUFS{ends}")
    lines += [f"  {name}: measured by an older version, or unreadable; add its file once more" for name in shelf.to_measure]
    if shelf.songs:
        lines += ["", f"  loudness: {median_of([reference.song.integrated_lufs for reference in shelf.songs]):.1f} LUFS in the middle"]
        lines += _readings(shelf)
    return "\n".join(lines)


def _readings(shelf: Shelf) -> list[str]:
    usual = {reading.name: reading for reading in usual_of(shelf.songs)}
    lines = []
    for feature in FEATURES:
        values = [value for reference in shelf.songs if (value := getattr(reference.song.headline, feature.name)) is not None]
        if values:
            spread = _number(feature, usual[feature.name].spread)
            middle, low, high = (_number(feature, value) for value in (median_of(values), min(values), max(values)))
            lines.append(
                f"  {feature.words}: {middle} {feature.unit} ({low} to {high}; a further song of their kind: within {spread} either way)"
            )
    return lines


def _number(feature: Feature, value: float) -> str:
    if feature.unit == "%":
        return f"{100 * value:.0f}"
    return f"{value:.2f}" if feature.step < 0.5 else f"{value:.1f}"


def groups_text(shelf: Shelf, groups: Sequence[Group], tried: Sequence[str]) -> str:
    """Return a shelf's groups, or why there are none."""
    count = len(shelf.songs)
    if count < FEWEST_SONGS:
        holds = f"The shelf '{shelf.name}' holds {counted(count, 'song', 'songs')}"
        return f"{holds}; groups are looked for from {FEWEST_SONGS} on: fewer fall apart by chance."
    lines = [f"The {count} songs of '{shelf.name}' are one group: no division held."]
    if len(groups) > 1:
        lines = [f"The {count} songs of '{shelf.name}' fall into {len(groups)} groups:"]
    for group in groups if len(groups) > 1 else ():
        shares = f": {', '.join(group.shares)} than the others" if group.shares else ": no single reading sets it apart"
        lines += ["", f"{group.number}. around '{name_of(group)}', {counted(len(group.songs), 'song', 'songs')}{shares}"]
        lines += [f"     {song_name(reference)}" for reference in sorted(group.songs, key=lambda reference: reference.name.casefold())]
    if len(groups) > 1:
        lines += [
            "",
            f"Compare with one of them alone: --references {shelf.name}:1, or the name of its middle song in place of the number.",
        ]
    return "\n".join([*lines, "", *tried])
