"""A matched filter.

Which bells and shelves explain best how a song differs from finished ones, and how strongly each stands out.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import lru_cache, partial
from typing import Literal

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Response = Callable[..., Floats]
Kind = Literal["bell", "low_shelf", "high_shelf", "high_pass"]

AT_MOST = 6
STEPS_PER_OCTAVE = 6
SEARCH_Q = 1.0
OTHER_Q = (0.7, 1.0, 1.4, 2.0)
OTHER_Q_NEEDS = 0.3  # higher output, to be said: with 16 bands and one song, Q is a rough guess
LEAST_STRENGTH = 1.0
PRIOR_GAIN_DB = 6.0  # standard deviation of the bells one expects: large estimates are drawn towards 0
PRIOR_WEIGHT = 10.0  # the spread between songs counts as this many bands when a song's own roughness is judged
PLANTED_DB = 6.0
SHELF_Q = 0.71
MOST_LOSS_DB = 25.0
LOW_SHELVES_HZ = (45.0, 60.0, 80.0, 105.0)
HIGH_SHELVES_HZ = (2500.0, 3500.0, 5000.0, 7000.0)
HIGH_PASSES_HZ = (45.0, 65.0, 90.0)
HIGH_PASS_ORDER = 4
KEPT_SHAPES = 2048  # songs share their bands, and a trial measures many times


def bell_db(frequency_hz: Floats, centre_hz: float, q: float, gain_db: float) -> Floats:
    """Return the gain in dB of the analogue bell.

    ``(s^2 + s A/Q + 1) / (s^2 + s / (A Q) + 1)``, ``A = 10^(gain / 40)``.

    Examples
    --------
    >>> bell_db(np.array([500.0, 1000.0]), 1000.0, 1.0, 6.0).round(2).tolist()
    [1.88, 6.0]
    """
    a = 10 ** (gain_db / 40)
    s = 1j * frequency_hz / centre_hz
    response: Floats = 20 * np.log10(np.abs((s**2 + s * a / q + 1) / (s**2 + s / (a * q) + 1)))
    return response


def low_shelf_db(frequency_hz: Floats, corner_hz: float, gain_db: float) -> Floats:
    """Return the gain in dB of the analogue low shelf.

    ``A (s^2 + s sqrt(A)/Q + A) / (A s^2 + s sqrt(A)/Q + 1)``, Q 0.71.

    Examples
    --------
    >>> low_shelf_db(np.array([5.0, 100.0, 300.0]), 100.0, 6.0).round(1).tolist()
    [6.0, 3.0, 0.1]
    """
    a = 10 ** (gain_db / 40)
    s, middle = 1j * frequency_hz / corner_hz, np.sqrt(a) / SHELF_Q
    response: Floats = 20 * np.log10(np.abs(a * (s**2 + s * middle + a) / (a * s**2 + s * middle + 1)))
    return response


def high_shelf_db(frequency_hz: Floats, corner_hz: float, gain_db: float) -> Floats:
    """Return the gain in dB of the high shelf.

    It mirrors `low_shelf_db`.
    """
    return low_shelf_db(corner_hz**2 / frequency_hz, corner_hz, gain_db)


def high_pass_db(frequency_hz: Floats, corner_hz: float) -> Floats:
    """Return the gain in dB of a Butterworth high-pass.

    24 dB per octave, no further down than 25 dB.
    """
    loss: Floats = 10 * np.log10(1 + (corner_hz / frequency_hz) ** (2 * HIGH_PASS_ORDER))
    return -np.minimum(loss, MOST_LOSS_DB)


@dataclass(frozen=True, slots=True)
class Shape:
    """A filter that may have been put on a song.

    ``template`` is what it does to third-octave bands, per dB of gain.
    ``sign`` is the sign its gain may have; 0 for either. Of a high-pass the gain is 1 where it was put in.
    """

    kind: Kind
    frequency_hz: float
    q: float
    sign: int
    template: Floats


def in_bands(band_hz: Floats, response_db: Callable[[Floats], Floats]) -> Floats:
    """Return what a response does to third-octave bands, in dB.

    To the power of evenly filled ones.
    """
    inside = band_hz[:, None] * 10 ** np.linspace(-0.05, 0.05, 9)[None, :]
    done: Floats = 10 * np.log10(np.mean(10 ** (response_db(inside) / 10), axis=1))
    return done


def bell_shape(band_hz: Floats, centre_hz: float, q: float) -> Shape:
    """Return a bell of 6 dB, per dB of gain."""
    return _bell_shape(tuple(band_hz.tolist()), centre_hz, q)


@lru_cache(maxsize=KEPT_SHAPES)
def _bell_shape(band_hz: tuple[float, ...], centre_hz: float, q: float) -> Shape:
    template = in_bands(np.array(band_hz), lambda hz: bell_db(hz, centre_hz, q, PLANTED_DB)) / PLANTED_DB
    template.setflags(write=False)
    return Shape("bell", centre_hz, q, 0, template)


def bells(band_hz: Floats, low_hz: float, high_hz: float) -> list[Shape]:
    """Return Q 1 bells at every sixth of an octave."""
    steps = int(np.log2(high_hz / low_hz) * STEPS_PER_OCTAVE) + 1
    centres = low_hz * 2 ** (np.arange(steps) / STEPS_PER_OCTAVE)
    return [bell_shape(band_hz, float(centre), SEARCH_Q) for centre in centres]


def shelves(band_hz: Floats) -> list[Shape]:
    """Return low and high shelves either way, and high-passes."""
    return list(_shelves(tuple(band_hz.tolist())))


@lru_cache(maxsize=KEPT_SHAPES)
def _shelves(bands_hz: tuple[float, ...]) -> tuple[Shape, ...]:
    band_hz = np.array(bands_hz)
    either: tuple[tuple[Kind, Response, tuple[float, ...]], ...] = (
        ("low_shelf", low_shelf_db, LOW_SHELVES_HZ),
        ("high_shelf", high_shelf_db, HIGH_SHELVES_HZ),
    )
    lifting = [
        Shape(kind, hz, SHELF_Q, 0, in_bands(band_hz, partial(response, corner_hz=hz, gain_db=PLANTED_DB)) / PLANTED_DB)
        for kind, response, corners_hz in either
        for hz in corners_hz
    ]
    passing = [Shape("high_pass", hz, SHELF_Q, 1, in_bands(band_hz, partial(high_pass_db, corner_hz=hz))) for hz in HIGH_PASSES_HZ]
    return (*lifting, *passing)


@dataclass(frozen=True, slots=True)
class Filter:
    """A matched filter over some bands of curves.

    One or several, laid one after another.
    ``precision`` is the inverse covariance with what may differ freely (level, tilt) projected out, ``answers`` what the curves
    show of a template in the mix's bands.
    """

    band_hz: Floats
    precision: Floats
    answers: Callable[[Floats], Floats]

    def gain(self, deviation: Floats, template: Floats) -> tuple[float, float]:
        """Return a template's gain and its standard deviation, in dB.

        Generalised least squares; the deviation is between songs.
        """
        answer = self.answers(template)
        weights: Floats = self.precision @ answer
        information = float(answer @ weights)
        return float(weights @ deviation) / information, information**-0.5


def precision_of(covariance: Floats, free: Floats) -> Floats:
    """Return the inverse of a covariance.

    With the columns of ``free`` projected out.
    """
    inverse = np.linalg.inv(covariance)
    spanned = inverse @ free
    precision: Floats = np.subtract(inverse, spanned @ np.linalg.solve(free.T @ spanned, spanned.T), dtype=np.float64)
    return precision


@dataclass(frozen=True, slots=True)
class FittedShape:
    """A filter that explains a stretch of a song's deviation.

    ``gain_db`` as estimated, ``shrunk_db`` drawn towards zero.
    """

    shape: Shape
    gain_db: float
    shrunk_db: float
    strength: float


def search(matched: Filter, deviation: Floats, shapes: Sequence[Shape]) -> list[FittedShape]:
    """Take out the strongest filter and look again.

    Up to six times; the strongest comes first.
    """
    answers = np.array([matched.answers(shape.template) for shape in shapes])
    weights = answers @ matched.precision
    scale = np.sqrt(np.sum(weights * answers, axis=1))
    signs = np.array([shape.sign for shape in shapes])
    rest = deviation.copy()
    matches: list[FittedShape] = []
    for _ in range(AT_MOST):
        outputs = weights @ rest / scale
        outputs[outputs * signs < 0.0] = 0.0
        best = int(np.argmax(np.abs(outputs)))
        output = float(outputs[best])
        unexplained = max(float(rest @ matched.precision @ rest) - output**2, 0.0)
        rough = np.sqrt((PRIOR_WEIGHT + unexplained) / (PRIOR_WEIGHT + len(rest) - 3))
        strength = abs(output) / float(rough)
        if strength < LEAST_STRENGTH:
            break
        matches.append(_refined(matched, rest, shapes[best], strength))
        rest -= output / scale[best] * answers[best]
    return sorted(matches, key=lambda match: -match.strength)


def _refined(matched: Filter, rest: Floats, near: Shape, strength: float) -> FittedShape:
    """Choose a bell's frequency and Q by the highest output around the peak, and draw the gain towards zero."""
    best = (-1.0, near, *matched.gain(rest, near.template))
    for q in OTHER_Q if near.kind == "bell" else ():
        for shift in (-1 / 12, 0.0, 1 / 12):
            shape = bell_shape(matched.band_hz, near.frequency_hz * 2**shift, q)
            gain, spread = matched.gain(rest, shape.template)
            advantage = 0.0 if q == SEARCH_Q else OTHER_Q_NEEDS
            best = max(best, (abs(gain) / spread - advantage, shape, gain, spread), key=lambda candidate: candidate[0])
    _, shape, gain, spread = best
    return FittedShape(shape, gain, drawn_to_zero(gain, spread), strength)


def drawn_to_zero(gain_db: float, spread_db: float) -> float:
    """Return a gain as expected, drawn towards zero.

    Gains have a standard deviation of 6 dB.
    """
    return gain_db * PRIOR_GAIN_DB**2 / (PRIOR_GAIN_DB**2 + spread_db**2)
