"""Whether a plan pays its way.

What it may cost in clean loudness, and which step to leave out where it costs more.
"""

from collections.abc import Sequence
from itertools import pairwise

from advisor.planning.trial_readings import TrialReadings

MOST_ROOM_LOST_LU = 0.3  # of clean loudness that a whole plan may cost
FAR_OVER_LU = 2.0  # over the target nobody needs the room: there a plan may cost more, and says so


def room_kept(before: TrialReadings, after: TrialReadings) -> bool:
    """Whether clean loudness holds.

    Never under the target where it was over it, and hardly less than before unless it stays far over.
    """
    before_lu, after_lu = before.outcomes.room_lu, after.outcomes.room_lu
    if before_lu is None or after_lu is None:
        return True
    return after_lu >= min(before_lu - MOST_ROOM_LOST_LU, FAR_OVER_LU) and not after_lu < 0.0 <= before_lu


def least_worth(states: Sequence[TrialReadings], *, room: bool) -> int:
    """Return the place of the step to leave out first.

    The one that costs most room, or the last.
    ``states`` are the excerpt as it is and after every step. Of steps that cost alike the last goes.
    """
    if not room:
        return len(states) - 2
    levels = [readings.outcomes.room_lu or 0.0 for readings in states]
    costs = [before - after for before, after in pairwise(levels)]
    return max(range(len(costs)), key=lambda place: (round(costs[place], 6), place))
