"""Clicks and gaps.

Single-sample jumps that stand alone, and sudden digital silence inside the sound.
"""

import numpy as np
from numpy.typing import NDArray

from features.records.base import Moment, Span

Integers = NDArray[np.int64]

FULL_SCALE = 1 << 23
MOST_PLACES = 20
SAME_CLICK_S = 0.001
NEAR_EDGE_S = 0.005
LONGEST_GAP_S = 2.0
SOUND = FULL_SCALE * 10 ** (-50 / 20)  # both edges of a gap stand above -50 dBFS


def find_gaps(zeros: list[Integers], rate_hz: int, frames: int) -> tuple[Span, ...]:
    """Return digital silence that cuts into sound.

    5 ms to 2 s whose edges both cut, in any channel; overlapping ones become one.

    Parameters
    ----------
    zeros
        Per channel rows of (start, length, sound before, sound after) in samples and steps of 2**-23; the two last are 0 where the sound
        fades out or in.
    rate_hz, frames
        Sampling rate and length of the file.
    """
    gaps: list[Span] = []
    spans = [
        (start, start + length)
        for rows in zeros
        for start, length, before, after in rows.tolist()
        if length <= LONGEST_GAP_S * rate_hz and min(before, after) >= SOUND and start > 0 and start + length < frames
    ]
    for start, end in sorted(spans):
        if gaps and start / rate_hz <= gaps[-1].end_s:
            gaps[-1] = Span(gaps[-1].start_s, max(gaps[-1].end_s, end / rate_hz))
        else:
            gaps.append(Span(start / rate_hz, end / rate_hz))
    return tuple(gaps)


def find_clicks(jumps: list[Integers], gaps: tuple[Span, ...], rate_hz: int, frames: int) -> tuple[Moment, ...]:
    """Return all clicks, highest over their surroundings first.

    Those at the file's ends and at gaps' edges are told elsewhere.
    ``jumps``: per channel rows of (position, second difference, RMS of the second difference within 5 ms).
    """
    by_time: dict[float, float] = {}
    last = -1.0
    rows = np.concatenate([np.zeros((0, 3), np.int64), *jumps])
    for position, height, around in rows[np.argsort(rows[:, 0], kind="stable")].tolist():
        time = position / rate_hz
        at_an_end = time < NEAR_EDGE_S or (frames - position) / rate_hz < NEAR_EDGE_S
        at_a_gap = any(min(abs(time - gap.start_s), abs(time - gap.end_s)) < NEAR_EDGE_S for gap in gaps)
        if at_an_end or at_a_gap:
            continue
        value = float(20.0 * np.log10(height / max(around, 256)))
        if last >= 0.0 and time - last <= SAME_CLICK_S:
            by_time[last] = max(by_time[last], value)
        else:
            by_time[time], last = value, time
    moments = [Moment(time, time + SAME_CLICK_S, value) for time, value in by_time.items()]
    return tuple(sorted(moments, key=lambda moment: (-moment.value, moment.start_s)))
