"""The course of a project as a small text chart.

Clean loudness, bounce by bounce, against the target.
"""

from collections.abc import Iterator, Sequence

WIDTH = 32


def chart(levels: Sequence[tuple[int, float | None]], target_lufs: float) -> Iterator[str]:
    """Draw the bounces' clean loudness as bars, with the target.

    >>> for line in chart([(1, -16.0), (2, -12.5)], -13.0): print(line)
    bounce 1  ######                 |           -16.0 LUFS
    bounce 2  #######################|##         -12.5 LUFS
                                     | target -13 LUFS
    """
    known = [level for _, level in levels if level is not None]
    if not known:
        return
    low, high = min(*known, target_lufs) - 1.0, max(*known, target_lufs) + 1.0
    mark = _place(target_lufs, low, high)
    name = max(len(f"bounce {number}") for number, _ in levels)
    for number, level in levels:
        filled = 0 if level is None else _place(level, low, high)
        row = ["#" if place < filled else " " for place in range(WIDTH + 1)]
        row[mark] = "|"
        shown = "not measured" if level is None else f"{level:.1f} LUFS"
        yield f"{f'bounce {number}':{name}}  {''.join(row)}  {shown}"
    yield f"{'':{name}}  {' ' * mark}| target {target_lufs:g} LUFS"


def _place(level: float, low: float, high: float) -> int:
    return round(WIDTH * (level - low) / (high - low))
