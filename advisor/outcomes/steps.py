"""How much of each outcome a listener just notices.

How much it counts, every weight of a move's benefit, stands here.
Sources are keys of `docs/sources.md`; ``judgement`` marks common practice or a choice of ours that no published source settles.
"""

from dataclasses import dataclass
from math import exp, log2


@dataclass(frozen=True, slots=True)
class Step:
    """One outcome on a listener's scale.

    Attributes
    ----------
    size
        The smallest change that is noticed, in the outcome's own unit.
    source
        Where that comes from.
    enough, fade
        From ``enough`` on more is worth less and less: no more than ``fade / size`` steps in all. None: every step counts alike.
    enough_source
        Where that comes from.
    """

    size: float
    source: str
    enough: float | None = None
    fade: float = 0.0
    enough_source: str = "judgement"

    def worth(self, value: float) -> float:
        """Return what a value is worth in steps.

        0 at ``enough``; smooth, and never less for a higher value.

        >>> Step(0.5, "judgement", enough=0.0, fade=1.0).worth(-1.0)
        -2.0
        """
        if self.enough is None:
            return value / self.size
        over = value - self.enough
        return over / self.size if over <= 0.0 else self.fade / self.size * (1.0 - exp(-over / self.fade))


# Loudness of the whole song: 0.41 dB is the smallest change of level heard in wide-band noise. Room past the target is of little use.
ROOM_LU = Step(0.5, "miller-1947", enough=0.0, fade=1.0)
# A decibel on what covers them changes what is heard of the hits by 0.03; nine finished songs in ten lie above 0.55, spread 0.12.
HITS_SHARE = Step(0.05, "hits-trial", enough=0.55, fade=0.12, enough_source="hits-survey")
# As for hits; nine elements in ten are heard by 0.47 or more, 0.78 in the middle.
ELEMENT_SHARE = Step(0.05, "hits-trial", enough=0.47, fade=0.15, enough_source="masking-survey")
NEXT_ELEMENT = 0.5  # the least audible main element counts whole, the next half as much, and so on; judgement
# A likelihood ratio of e: a deviation of 1.4 standard deviations in a single band, such as one song in six has.
TONE_NATS = Step(1.0, "judgement")
# Half of it: what the levels say of a fader comes on top of what is heard of the elements, and a whole one leaves most faults as they are.
LEVELS_NATS = Step(0.5, "judgement")
# Lost where both channels are added, in the whole song and below 120 Hz; nine finished songs in ten lose less than 1.8 LU.
MONO_LU = Step(0.5, "miller-1947", enough=-1.8, fade=0.5, enough_source="song-survey")
LOW_MONO_DB = Step(1.0, "toole-olive-1988", enough=-1.0, fade=0.5)
# Lost on a small speaker, beyond what songs of the target lose; with all lows a standard deviation up it is 4 dB more.
SMALL_SPEAKER_DB = Step(1.0, "toole-olive-1988", enough=-4.0, fade=0.5, enough_source="song-spread")
# Left against right; the ears hear about 1 dB, and nine finished songs in ten lean by less than 1.2 dB.
LEAN_DB = Step(1.0, "judgement", enough=-1.2, fade=0.5, enough_source="song-survey")

HEARD_NMR_DB = 1.5  # where a frame is heard as disturbed: one step (itu-bs1387)
DOUBLING_DB = 3.0  # of distortion, above that, for each step more; below, it fades out
PUMPING_DB = Step(1.0, "judgement")  # about the smallest change of level heard in music
HIT_LOSS_DB = Step(1.5, "judgement")  # half of the 3 dB at which a hit has lost half of its power

# Distance moved from what the user made: root mean square over octaves and over elements, at matched loudness.
MOVED_TONE_DB = Step(1.0, "toole-olive-1988")
MOVED_LEVELS_DB = Step(1.0, "miller-1947")
MOVED_WIDTH_DB = Step(2.0, "judgement")
MOVED_LEAN_DB = Step(1.0, "judgement")
MOVED_COSTS = 0.5  # steps of benefit for each step moved, less below one, since what is not heard is not missed; judgement

LEAST_BENEFIT = 1.0  # steps: a move must gain more than a listener just notices
MOST_LOST = 1.0  # steps that any outcome may lose
MOST_OF_IT = 0.8  # the smallest amount that gets this share of the best benefit is taken; judgement


def distortion_steps(nmr_db: float) -> float:
    """Return distortion in steps.

    1 where it is just heard, one more for each 3 dB far above, fading out below.

    >>> distortion_steps(1.5)
    1.0
    """
    over = (nmr_db - HEARD_NMR_DB) / DOUBLING_DB
    return over + log2(1.0 + 2.0**-over) if over > 0.0 else log2(1.0 + 2.0**over)
