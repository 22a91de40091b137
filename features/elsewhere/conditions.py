"""Listening conditions: where else a song is played.

Each is one value: what the loudspeaker and the place pass on, the noise there, what becomes of left and right, and how loud people listen.
No curve is that of a product. Where each comes from, and how far that is confirmed, stands in docs/sources.md under its ``sources``.
"""

from dataclasses import dataclass
from math import inf
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from features.hearing.equal_loudness import TABLE, contour_at_table
from features.sound.bands import a_weighting

Floats = NDArray[np.float64]
Points = tuple[tuple[float, float], ...]  # Hz and dB, straight over log frequency, held beyond both ends
Ears = Literal["both", "swapped", "left only"]

THIRDS_HZ = tuple(1000.0 * 10.0 ** (step / 10.0) for step in range(-17, 14))
QUIET_PHON, HOME_PHON = 50.0, 80.0
HOME_DB = 80.0  # at which a mix is judged on a desk
# EN 1793-3: normalised road traffic noise, A-weighted, 100 Hz to 5 kHz; all of it together is 0 dB.
TRAFFIC_DB = (-20, -20, -18, -16, -15, -14, -13, -12, -11, -9, -8, -9, -10, -11, -13, -15, -16, -18)
FIRST_TRAFFIC = 7  # 100 Hz among the third octaves
CAR_FALL_DB = 7.0  # of a third octave's level per octave


@dataclass(frozen=True, slots=True)
class Condition:
    """Where a song is played, and how.

    Attributes
    ----------
    key, name, place
        What the user writes, the name in a table, and the words in a sentence ("on a phone").
    transfer
        Gain in dB of the loudspeaker and the place, by frequency.
    hearing
        What the ear gains or loses there against a desk, in dB.
    noise
        Sound pressure level in dB of each third octave of the noise there; empty for a quiet place.
    mono_below_hz
        Left and right are added below this frequency; 0 for nowhere, infinite for everywhere.
    ears
        What becomes of left and right before that.
    level_db
        Sound pressure level of the song there, K-weighted.
    sources
        Keys of docs/sources.md.
    """

    key: str
    name: str
    place: str
    transfer: Points
    level_db: float
    sources: tuple[str, ...]
    noise: Points = ()
    hearing: Points = ()
    mono_below_hz: float = 0.0
    ears: Ears = "both"

    @property
    def is_mono(self) -> bool:
        """Whether all of it is played in mono."""
        return self.mono_below_hz == inf

    @property
    def sounds_as_at_the_desk(self) -> bool:
        """Whether all elements keep what they have there."""
        return (self.transfer, self.hearing, self.noise, self.mono_below_hz, self.level_db) == (
            FLAT, (), (), 0.0, HOME_DB,
        ) and self.ears != "left only"  # fmt: skip

    def played_db(self, frequency_hz: Floats) -> Floats:
        """Return the gain in dB of what is played."""
        return interpolated(self.transfer, frequency_hz)

    def gain_db(self, frequency_hz: Floats) -> Floats:
        """Return the gain in dB of what is heard."""
        played = self.played_db(frequency_hz)
        heard: Floats = played + interpolated(self.hearing, frequency_hz) if self.hearing else played
        return heard

    def noise_db(self, low_hz: Floats, high_hz: Floats) -> Floats:
        """Return the noise's level in dB in some bands.

        A third octave's power is spread evenly over it; minus infinity where there is none.
        """
        if not self.noise:
            return np.full(len(low_hz), -inf)
        centre_hz = np.sqrt(np.maximum(low_hz, 1.0) * high_hz)
        third_hz = centre_hz * (10**0.05 - 10**-0.05)
        return interpolated(self.noise, centre_hz) + 10.0 * np.log10((high_hz - low_hz) / third_hz)


def interpolated(points: Points, frequency_hz: Floats) -> Floats:
    """Return a table's values, straight over log frequency.

    Examples
    --------
    >>> interpolated(((100.0, -6.0), (400.0, 0.0)), np.array([50.0, 200.0, 800.0])).round(6).tolist()
    [-6.0, -3.0, 0.0]
    """
    hz, values = zip(*points, strict=True)
    between: Floats = np.interp(np.log(np.maximum(frequency_hz, 1.0)), np.log(hz), values)
    return between


def band_pass(low_hz: float, low_order: int, high_hz: float = inf, high_order: int = 2) -> Points:
    """Return a loudspeaker's band: Butterworth ends.

    ``-10 log10(1 + (f_low / f)^(2 n)) - 10 log10(1 + (f / f_high)^(2 m))`` at the third octaves from 20 Hz to 20 kHz.

    Examples
    --------
    >>> round(dict(band_pass(1000.0, 2))[1000.0], 2)
    -3.01
    """
    hz = np.array(THIRDS_HZ)
    gain_db = -10.0 * np.log10(1.0 + (low_hz / hz) ** (2 * low_order)) - 10.0 * np.log10(1.0 + (hz / high_hz) ** (2 * high_order))
    return tuple(zip(THIRDS_HZ, gain_db.tolist(), strict=True))


def shelf_below(frequency_hz: float, gain_db: float) -> Points:
    """Return lows raised by up to ``gain_db``.

    Half of it (in dB) is reached at ``frequency_hz``: ``gain / (1 + (f / f0)^2)``.
    """
    hz = np.array(THIRDS_HZ)
    return tuple(zip(THIRDS_HZ, (gain_db / (1.0 + (hz / frequency_hz) ** 2)).tolist(), strict=True))


def traffic_noise(level_dba: float) -> Points:
    """Return road traffic noise at an A-weighted level.

    Third octaves of EN 1793-3 with the A-weighting taken off; below and above its range it goes on as its last bands do.
    """
    hz = np.array(THIRDS_HZ[FIRST_TRAFFIC : FIRST_TRAFFIC + len(TRAFFIC_DB)])
    levels = np.array(TRAFFIC_DB, np.float64) + level_dba - a_weighting(hz)
    return tuple(zip(hz.tolist(), levels.tolist(), strict=True))


def car_noise(level_dba: float) -> Points:
    """Return the noise inside a car at speed.

    Third octaves fall by 7 dB per octave; all of them add up to ``level_dba``, A-weighted.
    """
    hz = np.array(THIRDS_HZ)
    shape = -CAR_FALL_DB * np.log2(hz / 1000.0)
    whole = 10.0 * np.log10(np.sum(10.0 ** ((shape + a_weighting(hz)) / 10.0)))
    return tuple(zip(THIRDS_HZ, (shape - whole + level_dba).tolist(), strict=True))


def quieter_hearing(phon: float, reference_phon: float = HOME_PHON) -> Points:
    """Return what the ear loses at a lower level.

    ISO 226:2023: how much further the contour of ``phon`` bends than that of ``reference_phon``, relative to 1 kHz.
    """
    lost = (contour_at_table(reference_phon) - reference_phon) - (contour_at_table(phon) - phon)
    return tuple(zip(TABLE[:, 0].tolist(), lost.tolist(), strict=True))


FLAT: Points = ((1000.0, 0.0),)
DESK = Condition("desk", "your desk", "on full-range speakers", FLAT, HOME_DB, ("listening-practice",))
CONDITIONS = (
    Condition("phone", "phone", "on a phone", band_pass(600.0, 3), 68.0, ("listening-practice",), mono_below_hz=inf),
    Condition("laptop", "laptop", "on a laptop", band_pass(250.0, 3), 68.0, ("listening-practice",)),
    Condition("portable", "small portable speaker", "on a small portable speaker", band_pass(90.0, 4), 74.0, ("listening-practice",),
              mono_below_hz=inf),
    Condition("street", "earbuds in a street", "on earbuds in a street", band_pass(40.0, 1), 78.0, ("traffic-noise", "listening-practice"),
              noise=traffic_noise(70.0)),
    Condition("car", "car at speed", "in a car at speed", shelf_below(50.0, 8.0), 80.0, ("car-practice", "listening-practice"),
              noise=car_noise(68.0)),
    Condition("kitchen", "kitchen radio", "on a kitchen radio in mono", band_pass(140.0, 2, 10000.0), 66.0, ("listening-practice",),
              mono_below_hz=inf),
    Condition("club", "club", "in a club", shelf_below(80.0, 9.0), 98.0, ("listening-practice",), mono_below_hz=100.0),
    Condition("quiet", "quiet listening", "at low volume", FLAT, QUIET_PHON, ("iso-226",),
              hearing=quieter_hearing(QUIET_PHON)),
    Condition("swapped", "sides swapped", "with the sides swapped", FLAT, HOME_DB, ("listening-practice",), ears="swapped"),
    Condition("one-ear", "left ear only", "with one earbud", FLAT, HOME_DB, ("listening-practice",), ears="left only"),
)  # fmt: skip
