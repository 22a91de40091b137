"""Words the rules share.

Frequencies, regions and parts as a producer names them.
"""

from collections.abc import Sequence

REGIONS = (
    (60.0, "sub lows"),
    (150.0, "lows"),
    (500.0, "low mids"),
    (2000.0, "mids"),
    (6000.0, "upper mids"),
    (float("inf"), "highs"),
)
BUILD_UPS = {  # what a build-up sounds like, by its region
    "sub lows": "Too much sub",
    "lows": "Boomy lows",
    "low mids": "Boomy low mids",
    "mids": "Boxy mids",
    "upper mids": "Harsh upper mids",
    "highs": "Sharp highs",
}
PART_WORDS = {
    "mix": "the whole mix",
    "percussive": "the drums and other attacks",
    "sustained": "the sustained sounds (bass, chords, voice)",
    "mid": "the mid signal",
    "side": "the side signal",
}


def hertz(frequency_hz: float) -> str:
    """Return a frequency with two meaningful digits.

    ``250 Hz``, ``2.5 kHz``.

    >>> hertz(253.7), hertz(2512.0), hertz(10100.0)
    ('250 Hz', '2.5 kHz', '10 kHz')
    """
    rounded = float(f"{frequency_hz:.2g}")
    return f"{rounded:.0f} Hz" if rounded < 1000.0 else f"{rounded / 1000.0:g} kHz"


def region(frequency_hz: float) -> str:
    """Return the desk's name for a frequency's region.

    >>> region(250.0)
    'low mids'
    """
    return next(name for below_hz, name in REGIONS if frequency_hz < below_hz)


def sentences(clauses: Sequence[str]) -> str:
    """Return clauses as sentences, without the last full stop.

    >>> sentences(["peaks are high", "it drifts"])
    'Peaks are high. It drifts'
    """
    return ". ".join(f"{clause[:1].upper()}{clause[1:]}" for clause in clauses)


def counted(count: int, singular: str, plural: str = "") -> str:
    """Return a number with its word.

    >>> counted(1, "click"), counted(3, "click"), counted(2, "rare peak is", "rare peaks are")
    ('1 click', '3 clicks', '2 rare peaks are')
    """
    return f"{count} {singular if count == 1 else plural or singular + 's'}"
