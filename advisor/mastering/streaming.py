"""What listeners get where loudness is evened out.

The level, what is turned down or up, the peaks and PSR there.

Music is normalised to -16 LUFS by track, or with the loudest track of an album at -14 LUFS, with peaks at -1 dBTP at most (AES TD1008).
A gain changes no PSR. Turning up ends where the peaks meet that limit, as far as no further limiter is wanted.
"""

from collections.abc import Sequence

from features.records.mastering import Normalised

PEAK_DBTP = -1.0


def normalised(lufs: float, true_peak_dbtp: float, psr_db: float | None, targets_lufs: Sequence[float]) -> tuple[Normalised, ...]:
    """Return what normalisation to each level does to a song.

    >>> normalised(-10.0, -1.0, 8.0, (-14.0,))[0].gain_db
    -4.0
    >>> quiet = normalised(-20.0, -3.0, 14.0, (-14.0,))[0]
    >>> quiet.gain_db, quiet.reached_lufs
    (2.0, -18.0)
    """
    views = []
    for target in targets_lufs:
        gain = target - lufs
        if gain > 0.0:
            gain = min(gain, max(PEAK_DBTP - true_peak_dbtp, 0.0))
        views.append(Normalised(target, gain, true_peak_dbtp + gain, lufs + gain, psr_db))
    return tuple(views)
