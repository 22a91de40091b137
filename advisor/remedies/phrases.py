"""Phrases that the sentences of several remedy kinds share."""

from math import asinh, log

from advisor.app.words import frequency
from advisor.remedies.parts import part_words
from advisor.remedies.usual_settings import ATTACK_MS, BELL_Q, KNEE_DB, PASS_ORDER, RATIO, RELEASE_MS, SHELF_Q, given
from rules.remedy import Remedy


def bandwidth_octaves(q: float) -> float:
    """Return a bell's width in octaves between its half-gain points.

    2 asinh(1 / 2Q) / ln 2.

    >>> round(bandwidth_octaves(1.414), 2)
    1.0
    """
    return 2.0 * asinh(1.0 / (2.0 * q)) / log(2.0)


def width_words(q: float | None) -> str:
    """Return how wide a bell is, in words.

    The words are those one says at a desk.
    """
    octaves = bandwidth_octaves(q or BELL_Q)
    for most, words in ((0.2, "very narrow"), (0.4, "a third of an octave wide"), (0.75, "half an octave wide")):
        if octaves < most:
            return words
    return "an octave wide" if octaves < 1.25 else f"{octaves:.1f} octaves wide"


def amount_words(gain_db: float | None) -> str:
    """Return an equaliser's gain as a move."""
    gain = gain_db or 0.0
    return f"{'boost' if gain > 0 else 'cut'} {abs(gain):.1f} dB"


def level_words(what: str, gain_db: float | None) -> str:
    """Return a fader's move.

    >>> level_words("'lead'", -2.0)
    "turn 'lead' down 2.0 dB"
    """
    gain = gain_db or 0.0
    return f"turn {what} {'up' if gain > 0 else 'down'} {abs(gain):.1f} dB"


def on_part(remedy: Remedy) -> str:
    """Return on which part the remedy works."""
    return f"on {part_words(remedy.part)}"


def direct_part(remedy: Remedy) -> str:
    """Return the part as the object of a verb."""
    return part_words(remedy.part)


def frequency_words(remedy: Remedy) -> str:
    """Return the remedy's frequency with its unit."""
    return frequency(remedy.frequency_hz or 0.0)


def compression_words(remedy: Remedy) -> str:
    """Return what to compress, with the settings of the compressor."""
    return (
        f"compress {direct_part(remedy)}: ratio {remedy.ratio or RATIO:g}:1, threshold {remedy.threshold_dbfs or 0.0:.1f} dBFS "
        f"(peaks), attack {given(remedy.attack_ms, ATTACK_MS):g} ms, release {given(remedy.release_ms, RELEASE_MS):g} ms, "
        f"knee {given(remedy.knee_db, KNEE_DB):g} dB"
    )


def shelf_words(remedy: Remedy, side: str) -> str:
    """Return a shelf with its settings.

    ``side`` is below or above.
    """
    hz = frequency_words(remedy)
    return f"{amount_words(remedy.gain_db)} {side} {hz} with a shelf (half of it at {hz}, Q {remedy.q or SHELF_Q:.2g}), {on_part(remedy)}"


def pass_words(remedy: Remedy, name: str) -> str:
    """Return a high-pass or low-pass filter with its settings."""
    return f"a {name} filter at {frequency_words(remedy)}, {6 * (remedy.order or PASS_ORDER)} dB per octave, {on_part(remedy)}"
