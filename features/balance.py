"""The spectrum against its target: how far each band is off, and the few broad bells that explain it best."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from features.measurements import Absence, Balance, Bell, Span, Spectrum
from features.spectrum import middle_mean, tilt_weights
from features.target import TargetModel

Floats = NDArray[np.float64]

AT_MOST = 6
SEARCH_STEPS_PER_OCTAVE = 6
SEARCH_Q = 1.0
OTHER_Q = (0.7, 1.0, 1.4, 2.0)
OTHER_Q_NEEDS = 0.3  # higher output, to be said: with 16 bands and one song, Q is a rough guess
LEAST_STRENGTH = 1.0
LEAST_BANDS = 12
PRIOR_GAIN_DB = 6.0  # standard deviation of the bells one expects: large estimates are drawn towards 0
PRIOR_WEIGHT = 10.0  # the spread between songs counts as this many bands when a song's own roughness is judged
NO_CONTENT_DB = -25.0  # a top band this far below the target was cut off, not turned down
TOP_HZ = 9500.0
AGREEING_SHARE = 0.4
STANDS_OUT = 1.25
SIDE_COUNTS_DB = -15.0


def bell_db(frequency_hz: Floats, centre_hz: float, q: float, gain_db: float) -> Floats:
    """Return the gain in dB of the analogue bell ``(s^2 + s A/Q + 1) / (s^2 + s / (A Q) + 1)``, ``A = 10^(gain / 40)``.

    Examples
    --------
    >>> bell_db(np.array([500.0, 1000.0]), 1000.0, 1.0, 6.0).round(2).tolist()
    [1.88, 6.0]
    """
    a = 10 ** (gain_db / 40)
    s = 1j * frequency_hz / centre_hz
    response: Floats = 20 * np.log10(np.abs((s**2 + s * a / q + 1) / (s**2 + s / (a * q) + 1)))
    return response


def _template(band_hz: Floats, centre_hz: float, q: float) -> Floats:
    """Return what a bell of 6 dB does to third-octave bands, per dB of gain."""
    inside = band_hz[:, None] * 10 ** np.linspace(-0.05, 0.05, 9)[None, :]
    power = np.mean(10 ** (bell_db(inside, centre_hz, q, 6.0) / 10), axis=1)
    shape: Floats = 10 * np.log10(power) / 6
    return shape


@dataclass(frozen=True, slots=True)
class _Filter:
    """A matched filter over some bands: ``precision`` is the inverse covariance with level and tilt projected out.

    ``rows`` are the places of its bands in a song's curve, ``centre_db`` is what a song is held against there.
    """

    band_hz: Floats
    precision: Floats
    rows: NDArray[np.intp]
    centre_db: Floats

    def held_against(self, curve_db: Sequence[float]) -> Floats:
        """Return a song's curve minus what it is held against; level and tilt drop out later."""
        difference: Floats = np.array(curve_db)[self.rows] - self.centre_db
        return difference

    def gain(self, deviation: Floats, template: Floats) -> tuple[float, float]:
        """Return the generalised least-squares gain of a template and its standard deviation between songs, in dB."""
        weights = self.precision @ template
        information = float(template @ weights)
        return float(weights @ deviation) / information, information**-0.5


def _filter(model: TargetModel, kept: NDArray[np.bool_], rows: NDArray[np.intp]) -> _Filter:
    band_hz = model.model_hz[kept]
    inverse = np.linalg.inv(model.covariance[np.ix_(kept, kept)])
    free = np.stack([np.ones(len(band_hz)), np.log2(band_hz / 1000)], axis=1)
    spanned = inverse @ free
    precision = inverse - spanned @ np.linalg.solve(free.T @ spanned, spanned.T)
    centre = np.array(model.record.third_octave_db)[rows] if model.centre_db is None else model.centre_db[kept]
    return _Filter(band_hz, precision, rows, centre)


def measure_balance(spectrum: Spectrum, target_model: TargetModel) -> Balance:
    """Hold a song's spectrum against a target.

    Parameters
    ----------
    spectrum
        The song.
    target_model
        The target, with the covariance between finished songs.

    Notes
    -----
    Bells are found with a matched filter (generalised least squares): with ``d`` the deviation from the target, ``t`` the
    shape of a bell, ``P`` the inverse covariance of finished songs with level and tilt projected out, the gain is
    ``t'Pd / t'Pt`` and the strength ``|t'Pd| / sqrt(t'Pt)``, divided by the song's own roughness (the rest of the deviation
    against what songs usually show, as in a moderated t). The strongest is taken out, and the next looked for. Gains are drawn
    towards zero as if bells had a standard deviation of 6 dB; they still come out a little high, since the search picks
    the place where the song's own shape adds to the fault.
    """
    record = target_model.record
    count = min(len(spectrum.third_octave_db), len(record.third_octave_hz))
    band_hz = np.array(spectrum.third_octave_hz[:count])
    if not count:
        return Balance((), (), (), None, (), absent=_absent("the song is silent", "tilt_deviation_db_per_octave", "bells"))
    deviation = _deviation(spectrum.third_octave_db, target_model)
    weights = tilt_weights(band_hz)
    slope = None if weights is None else float(weights @ deviation)
    octave = np.log2(band_hz / 1000)
    level_free = deviation - (0.0 if slope is None else slope) * octave
    level_free -= middle_mean(level_free, band_hz)
    tilt_off = None if spectrum.tilt_db_per_octave is None else spectrum.tilt_db_per_octave - record.tilt_db_per_octave
    bells, reason = _bells(spectrum, target_model, deviation, band_hz)
    absent = _absent("the sampling rate does not reach 10 kHz", "tilt_deviation_db_per_octave") if tilt_off is None else ()
    return Balance(
        third_octave_hz=tuple(float(value) for value in band_hz),
        deviation_db=tuple(float(value) for value in deviation),
        unusual=tuple(float(value) for value in level_free / np.array(record.spread_db[:count])),
        tilt_deviation_db_per_octave=tilt_off,
        bells=bells,
        absent=absent + (_absent(reason, "bells") if reason else ()),
    )


def _absent(reason: str, *names: str) -> tuple[Absence, ...]:
    return tuple(Absence(name, reason) for name in names)


def _deviation(curve_db: Sequence[float], model: TargetModel) -> Floats:
    """Return a curve minus the target, with equal means over 200 Hz-5 kHz."""
    count = min(len(curve_db), len(model.record.third_octave_hz))
    band_hz = np.array(model.record.third_octave_hz[:count])
    difference = np.array(curve_db[:count]) - np.array(model.record.third_octave_db[:count])
    centred: Floats = difference - middle_mean(difference, band_hz)
    return centred


def _bells(spectrum: Spectrum, model: TargetModel, deviation: Floats, band_hz: Floats) -> tuple[tuple[Bell, ...], str]:
    """Find the bells; without enough bands none, and the reason. A top that was cut off is left out."""
    rows = np.searchsorted(band_hz, model.model_hz * 0.99)
    there = rows < len(band_hz)
    rows = rows[there]
    content = ~((band_hz[rows] > TOP_HZ) & (deviation[rows] < NO_CONTENT_DB))
    kept = there.copy()
    kept[there] = content
    rows = rows[content]
    if len(rows) < LEAST_BANDS:
        return (), "too few bands are left to tell a bell from the song's own shape"
    matched = _filter(model, kept, rows)
    found = _search(matched, matched.held_against(spectrum.third_octave_db))
    return tuple(_described(one, spectrum, matched) for one in found), ""


@dataclass(frozen=True, slots=True)
class _Found:
    frequency_hz: float
    q: float
    gain_db: float
    raw_gain_db: float
    strength: float


def _search(matched: _Filter, deviation: Floats) -> list[_Found]:
    """Take out the strongest bell, look again, up to six times."""
    low, high = matched.band_hz[0] * 1.3, matched.band_hz[-1] / 1.3
    steps = int(np.log2(high / low) * SEARCH_STEPS_PER_OCTAVE) + 1
    centres = low * 2 ** (np.arange(steps) / SEARCH_STEPS_PER_OCTAVE)
    templates = np.array([_template(matched.band_hz, centre, SEARCH_Q) for centre in centres])
    weights = templates @ matched.precision
    information = np.sum(weights * templates, axis=1)
    rest = deviation.copy()
    found: list[_Found] = []
    for _ in range(AT_MOST):
        outputs = weights @ rest / np.sqrt(information)
        best = int(np.argmax(np.abs(outputs)))
        output = float(outputs[best])
        unexplained = max(float(rest @ matched.precision @ rest) - output**2, 0.0)
        rough = np.sqrt((PRIOR_WEIGHT + unexplained) / (PRIOR_WEIGHT + len(rest) - 3))
        strength = abs(output) / float(rough)
        if strength < LEAST_STRENGTH:
            break
        found.append(_refined(matched, rest, float(centres[best]), strength))
        rest -= output / np.sqrt(information[best]) * templates[best]
    return sorted(found, key=lambda one: -one.strength)


def _refined(matched: _Filter, rest: Floats, near_hz: float, strength: float) -> _Found:
    """Choose frequency and Q by the highest output around the peak, and draw the gain towards zero."""
    best = (-1.0, near_hz, SEARCH_Q, 0.0, 1.0)
    for q in OTHER_Q:
        for shift in (-1 / 12, 0.0, 1 / 12):
            centre = near_hz * 2**shift
            gain, spread = matched.gain(rest, _template(matched.band_hz, centre, q))
            advantage = 0.0 if q == SEARCH_Q else OTHER_Q_NEEDS
            best = max(best, (abs(gain) / spread - advantage, centre, q, gain, spread))
    _, centre, q, gain, spread = best
    shrunk = gain * PRIOR_GAIN_DB**2 / (PRIOR_GAIN_DB**2 + spread**2)
    return _Found(centre, q, shrunk, gain, strength)


def _described(found: _Found, spectrum: Spectrum, matched: _Filter) -> Bell:
    agree, part = _parts(found, spectrum, matched)
    return Bell(found.frequency_hz, found.gain_db, found.q, found.strength, agree, part, _where(found, spectrum))


def _parts(found: _Found, spectrum: Spectrum, matched: _Filter) -> tuple[bool | None, str]:
    """Tell whether every part of the song shows the bell, and the part that shows it most.

    A room or a monitor bends everything alike; an instrument stands in one part only.
    """
    template = _template(matched.band_hz, found.frequency_hz, found.q)
    curves = {
        "percussive": spectrum.percussive_db,
        "sustained": spectrum.sustained_db,
        "mid": spectrum.mid_db,
        "side": _audible_side(found, spectrum),
    }
    times = {"dense": spectrum.dense_db, "quiet": spectrum.quiet_db}
    share = {
        name: matched.gain(matched.held_against(curve), template)[0] / found.raw_gain_db
        for name, curve in {**curves, **times}.items()
        if curve
    }
    most = max((name for name in curves if name in share), key=lambda name: share[name], default="mix")
    part = most if share.get(most, 0.0) > STANDS_OUT else "mix"
    if "percussive" not in share or "sustained" not in share:
        return None, part
    agree = min(share.values()) > AGREEING_SHARE
    return agree, "mix" if agree else part


def _audible_side(found: _Found, spectrum: Spectrum) -> tuple[float, ...] | None:
    """Return the side curve where the side is loud enough at the bell to matter."""
    if spectrum.side_db is None:
        return None
    band = int(np.argmin(np.abs(np.log2(np.array(spectrum.third_octave_hz) / found.frequency_hz))))
    return spectrum.side_db if spectrum.side_db[band] - spectrum.mid_db[band] > SIDE_COUNTS_DB else None


def _where(found: _Found, spectrum: Spectrum) -> tuple[Span, ...]:
    """Return up to three places where the bands of a rise stand highest, its centre's first; a hollow has no place."""
    if found.gain_db < 0:
        return ()
    distance = np.abs(np.log2(np.array(spectrum.third_octave_hz) / found.frequency_hz))
    spans: list[Span] = []
    for band in np.argsort(distance, kind="stable")[:3]:
        span = spectrum.band_loudest[int(band)]
        if all(abs(span.start_s - other.start_s) > 5.0 for other in spans):
            spans.append(span)
    return tuple(spans)
