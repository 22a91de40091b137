"""Clicks of a single element.

For telling whether it carries those of the mix.
"""

from features.file_faults.clicks import find_clicks, find_gaps
from features.file_faults.sample_scan import SampleScan
from features.records.base import Moment
from features.sound.signal import Source

SAME_PLACE_S = 0.005


def clicks_of(source: Source) -> tuple[Moment, ...]:
    """Return all clicks of a sound.

    Highest over their surroundings first, as `features.file_faults.health` finds them in a file.
    """
    scan = SampleScan(source.rate_hz, source.channels)
    for block in source.blocks():
        scan.push(block)
    channels = tuple(scan.finish())
    gaps = find_gaps([channel.rows(channel.zeros, 4) for channel in channels], source.rate_hz, source.frames)
    return find_clicks([channel.rows(channel.jumps, 3) for channel in channels], gaps, source.rate_hz, source.frames)


def share_among(clicks: tuple[Moment, ...], others: tuple[Moment, ...]) -> float:
    """Return the share of ``clicks`` with another beside them.

    The other is of ``others``; 0-1, and 0 without any.

    >>> share_among((Moment(1.0, 1.1, 40.0), Moment(2.0, 2.1, 40.0)), (Moment(1.001, 1.1, 35.0),))
    0.5
    """
    places = [moment.start_s for moment in others]
    there = sum(any(abs(moment.start_s - place) <= SAME_PLACE_S for place in places) for moment in clicks)
    return there / len(clicks) if clicks else 0.0
