"""What the rules about the slope of the spectrum share.

One looks for too bright, the other for too dark.
"""

from dataclasses import dataclass

from features.records.balance import Balance, Target
from features.records.spectrum import Spectrum
from rules.base import Finding, NotApplicable, limit
from rules.remedy import Kind, Remedy
from rules.shared.bands import mean_between
from rules.shared.bells import shelf_strength
from rules.shared.excess import missing, past, within
from rules.shared.spans import extreme_stretch
from rules.shared.sureness import sure_of_tone

MESSAGE = "Against {target_label}, the lows (100-400 Hz) are {lows_db:+.1f} dB and the highs (2.5-10 kHz) {highs_db:+.1f} dB."
LOWS_HZ = (99.0, 405.0)
HIGHS_HZ = (2450.0, 10100.0)
SHELF_Q = 0.5
HINT_SPREADS = 0.5  # without references, a slope so little past its limit is a hint


@dataclass(frozen=True, slots=True)
class Limits:
    """What may be set in mixproof.toml."""

    spreads: float = limit(
        2.0,
        unit="spreads between songs",
        low=1.0,
        high=4.0,
        source="song-spread",
        says="a slope further from the target's than this is reported",
    )
    spreads_in_general: float = limit(
        2.5,
        unit="spreads between songs",
        low=1.0,
        high=4.0,
        source="tone-detection",
        says="without references, the same, as a hint for half a spread",
    )
    strength: float = limit(
        2.5,
        unit="spreads between songs",
        low=0.5,
        high=5.0,
        source="tone-detection",
        says="highs that look moved by a shelf more strongly than this are reported",
    )
    clear: float = limit(
        3.8, unit="spreads between songs", low=0.5, high=6.0, source="tone-detection", says="and confidence is low up to here"
    )
    audible_db: float = limit(
        1.5, unit="dB", low=0.5, high=6.0, source="toole-olive-1988", says="unless lows or highs are off by this, nothing is said"
    )


@dataclass(frozen=True, slots=True)
class _End:
    """One end of the spectrum, and the shelf that reaches it."""

    word: str
    kind: Kind
    shelf_hz: float
    band_hz: tuple[float, float]


_LOW = _End("low", "low_shelf", 250.0, (60.0, 400.0))
_HIGH = _End("high", "high_shelf", 3000.0, (2500.0, 12000.0))


def leaning(balance: Balance, spectrum: Spectrum, target: Target, limits: Limits, *, bright: bool) -> Finding | NotApplicable | None:
    """Compare the slope with the target's, to one side.

    To the bright or to the dark one, in spreads between songs.

    The end that is further off is the one to move: the end that stands too high is lowered, the other one raised.
    """
    deviation = balance.tilt_deviation_db_per_octave
    lows_db = mean_between(balance.third_octave_hz, balance.deviation_db, *LOWS_HZ)
    highs_db = mean_between(balance.third_octave_hz, balance.deviation_db, *HIGHS_HZ)
    if deviation is None or lows_db is None or highs_db is None:
        return missing(balance, "tilt_deviation_db_per_octave")
    spreads = (deviation if bright else -deviation) / target.tilt_spread_db_per_octave
    above_db, below_db = (highs_db, -lows_db) if bright else (lows_db, -highs_db)
    strength = shelf_strength(balance, ("high_shelf",), raised=bright) if spreads > 0.0 else 0.0
    least = limits.spreads if target.songs > 0 else max(limits.spreads, limits.spreads_in_general)
    excess = max(past(spreads, least, 0.5), past(strength, limits.strength, 0.5))
    if excess <= 0.0 or max(above_db, below_db) < limits.audible_db:
        return None
    excess_leads = above_db >= below_db
    end = _HIGH if excess_leads == bright else _LOW
    gain_db = -within(above_db / 2.0, 1.0, 3.0) if excess_leads else within(below_db / 2.0, 1.0, 3.0)
    confidence, sure_because = sure_of_tone(target, clear=spreads >= limits.spreads + 1.0)
    if strength <= limits.clear and spreads <= least + (HINT_SPREADS if target.songs == 0 else 0.0):
        confidence = "low"
    return Finding(
        excess=excess,
        confidence=confidence,
        sure_because=sure_because,
        numbers={"target_label": target.label, "lows_db": lows_db, "highs_db": highs_db, "shelf": end.word,
                 "shelf_hz": end.shelf_hz, "gain_db": gain_db},
        cause="excess" if excess_leads else "lack",
        where=extreme_stretch(spectrum.tilt, 10.0, highest=bright),
        band_hz=end.band_hz,
        remedy=Remedy(end.kind, frequency_hz=end.shelf_hz, gain_db=gain_db, q=SHELF_Q),
    )  # fmt: skip
