"""What is left of a whole song elsewhere.

Read off its long-term spectrum and its hits.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import inf

import numpy as np
from numpy.typing import NDArray

from features.comparison.prior_spread import priors
from features.elements.masking.masking import loudness_weights
from features.elsewhere.conditions import CONDITIONS, DESK, Condition
from features.elsewhere.levels import audible, hidden_db, k_weights
from features.hearing.masking import LOUDNESS_EXPONENT
from features.records.balance import Target
from features.records.base import Absence
from features.records.ear import Elsewhere, SongElsewhere
from features.records.hits import Hits
from features.records.spectrum import Spectrum
from features.records.stereo import Stereo
from features.sound.bands import Bands, neighbours
from features.sound.measurement import Given, measurement

Floats = NDArray[np.float64]

LOW_HZ = 120.0
LEAST_SPREAD_LU = 0.5
MONO_SPREAD_LU = 0.6  # of what mono takes from songs in general
HIT_S = 0.05
SILENT = "the file is silent"


@dataclass(frozen=True, slots=True)
class Listening(Given):
    """The listening conditions that were chosen."""

    conditions: tuple[Condition, ...] = CONDITIONS


@dataclass(frozen=True, slots=True)
class _Song:
    """A song's mean power in third octaves: of both channels, and of their mono sum; only ratios count."""

    bands: Bands
    both: Floats
    mono: Floats

    def there(self, condition: Condition) -> Floats:
        """Return the power that is played and heard there."""
        power = np.where(self.bands.centre_hz < condition.mono_below_hz, self.mono, self.both)
        return power * 10.0 ** (condition.gain_db(self.bands.centre_hz) / 10.0)

    def loudness(self, power: Floats) -> float:
        """Return the K-weighted loudness of some powers, in dB."""
        return float(10.0 * np.log10(np.sum(power * k_weights(self.bands))))

    def levels_db(self, condition: Condition) -> Floats:
        """Return the bands' sound pressure levels there, at the level people listen at."""
        played = self.there(condition)
        level_db: Floats = 10.0 * np.log10(np.maximum(played, 1e-30)) + condition.level_db - self.loudness(played)
        return level_db


def _bands(hz: Sequence[float]) -> Bands:
    centre = np.array(hz)
    return Bands(centre, centre * 10**-0.05, centre * 10**0.05)


def _song(spectrum: Spectrum) -> _Song:
    bands = _bands(spectrum.third_octave_hz[: len(spectrum.third_octave_db)])
    both, mono = (10.0 ** (np.array(curve) / 10.0) * bands.width_hz for curve in (spectrum.third_octave_db, spectrum.mid_db))
    return _Song(bands, both, mono)


def _usual(target: Target, count: int) -> _Song:
    """Return the song that the references, or songs in general, make on average; mono takes from it what it usually takes."""
    bands = _bands(target.third_octave_hz[:count])
    both = 10.0 ** (np.array(target.third_octave_db[:count]) / 10.0) * bands.width_hz
    spread = priors()
    side_db = np.where(bands.centre_hz < LOW_HZ, spread["low_width_db"].median, spread["width_db"].median)
    return _Song(bands, both, both / (1.0 + 10.0 ** (side_db / 10.0)))


@measurement
def measure_elsewhere(spectrum: Spectrum, hits: Hits, stereo: Stereo, target: Target, listening: Listening | None = None) -> Elsewhere:
    """Measure what each listening condition leaves of a song.

    Notes
    -----
    Loudness there: ``10 log10(sum S H K / sum S K)`` with the song's spectrum S (the mono sum's where it is played in mono), the
    condition's gain H and the K-weighting. The spread between songs follows from that of their bands, to first order.
    Audible share: every third octave counts ``(sensitivity power) ** 0.25`` as far as it stands above the noise and the threshold in
    quiet, over the same sum on full-range speakers, both at one K-weighted loudness. The spectrum is the mean of the passages
    that count, so moments are louder and softer. With one ear the loudness is that of the left channel.
    """
    chosen = CONDITIONS if listening is None else listening.conditions
    if not spectrum.third_octave_db:
        return Elsewhere(target.songs, (), absent=(Absence("conditions", SILENT),))
    song = _song(spectrum)
    usual = _usual(target, len(song.both))
    lean_lu = _left_alone_lu(stereo)
    there = (_there(song, usual, spectrum, hits, target, condition) for condition in chosen)
    whole = zip(chosen, there, strict=True)
    return Elsewhere(
        target.songs,
        tuple(replace(its, loudness_lu=its.loudness_lu + lean_lu) if condition.ears == "left only" else its for condition, its in whole),
    )


def _left_alone_lu(stereo: Stereo) -> float:
    """Return the left channel's loudness against the mean of both."""
    return float(10.0 * np.log10(2.0 / (1.0 + 10.0 ** (-(stereo.balance_db or 0.0) / 10.0))))


def _there(song: _Song, usual: _Song, spectrum: Spectrum, hits: Hits, target: Target, condition: Condition) -> SongElsewhere:
    low = song.bands.centre_hz < LOW_HZ
    loss = -10.0 * np.log10(max(float(song.mono[low].sum() / song.both[low].sum()), 1e-12))
    return SongElsewhere(
        condition=condition.key,
        name=condition.name,
        place=condition.place,
        mono=condition.is_mono,
        loudness_lu=_change_lu(song, condition),
        usual_lu=_change_lu(usual, condition),
        spread_lu=_spread_lu(usual, target, condition),
        audible_share=_share(song, condition),
        usual_share=_share(usual, condition),
        hits_share=_hits_share(song, spectrum, hits, condition),
        low_mono_loss_db=float(loss) if condition.mono_below_hz > 0.0 else None,
    )


def _change_lu(song: _Song, condition: Condition) -> float:
    return song.loudness(song.there(condition)) - song.loudness(song.both)


def _spread_lu(usual: _Song, target: Target, condition: Condition) -> float:
    """Return how much songs differ in what a condition does to their loudness: the bands' weights there less those at the desk."""
    spread_db = np.array(target.spread_db[: len(usual.both)])
    weight = k_weights(usual.bands)
    there, here = usual.there(condition) * weight, usual.both * weight
    slope = (there / there.sum() - here / here.sum()) * spread_db
    mono = MONO_SPREAD_LU if condition.mono_below_hz == inf else 0.0
    variance = float(slope @ neighbours(usual.bands.centre_hz) @ slope) + mono**2
    return float(max(np.sqrt(variance), LEAST_SPREAD_LU))


def _loud(power: Floats, bands: Bands) -> Floats:
    loud: Floats = (power * loudness_weights(bands.centre_hz)) ** LOUDNESS_EXPONENT
    return loud


def _share(song: _Song, condition: Condition) -> float:
    there, here = song.there(condition), song.there(DESK)
    stands_out = audible(song.levels_db(condition), hidden_db(condition, song.bands))
    matched = there * 10.0 ** ((song.loudness(here) - song.loudness(there)) / 10.0)
    return float(min(np.sum(_loud(matched, song.bands) * stands_out) / np.sum(_loud(here, song.bands)), 1.0))


def _hits_share(song: _Song, spectrum: Spectrum, hits: Hits, condition: Condition) -> float | None:
    """Return what is audible of the hits there: in each band group their audible share in the mix, as far as they clear the noise.

    The strokes' spectrum is the percussive part's, its energy taken to lie in the 50 ms of each hit.
    """
    if not hits.count or hits.percussive_share is None or spectrum.percussive_db is None:
        return None
    bands = song.bands
    stroke = 10.0 ** (np.array(spectrum.percussive_db) / 10.0) * bands.width_hz
    busy = min(hits.count * HIT_S / max(hits.times_s[-1] - hits.times_s[0], 1.0), 1.0)
    stroke *= hits.percussive_share * song.both.sum() / stroke.sum() / max(busy, HIT_S)
    gain = song.there(condition) / np.maximum(song.both, 1e-30)
    to_level = condition.level_db - song.loudness(song.there(condition))
    levels_db = 10.0 * np.log10(np.maximum(stroke * gain, 1e-30)) + to_level
    clear = audible(levels_db, hidden_db(condition, bands))
    matched = stroke * gain * 10.0 ** ((song.loudness(song.both) - song.loudness(song.there(condition))) / 10.0)
    there = here = 0.0
    for group in hits.bands:
        inside = (bands.centre_hz >= group.low_hz) & (bands.centre_hz < group.high_hz)
        here += group.count * float(_loud(stroke, bands)[inside].sum())
        there += group.count * float((_loud(matched, bands) * clear)[inside].sum()) * (group.audible_share_median or 0.0)
    return min(there / here, 1.0) if here > 0.0 else None
