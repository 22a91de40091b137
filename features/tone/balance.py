"""The spectrum against its target.

How far each band is off, and the few broad bells that explain it best.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from features.records.balance import Balance, Bell, Shelf
from features.records.base import Absence, Span
from features.records.spectrum import Spectrum
from features.sound.measurement import measurement
from features.tone.matched_filter import Filter, FittedShape, bells, precision_of, search, shelves
from features.tone.part_covariance import part_deviation, part_filter, stacked
from features.tone.spectrum import middle_mean, tilt_weights
from features.tone.target import TargetModel

Floats = NDArray[np.float64]

LEAST_BANDS = 12
NO_CONTENT_DB = -25.0  # a top band this far below the target was cut off, not turned down
TOP_HZ = 9500.0
AGREEING_SHARE = 0.4
STANDS_OUT = 1.25
SIDE_COUNTS_DB = -15.0
BELLS_INSIDE = 1.3  # of the outermost bands: a bell needs something on either side
SHELF_HZ = (19.0, 12700.0)  # what lies above is ruled by lossy formats


@dataclass(frozen=True, slots=True)
class _Comparison:
    """A song held against finished ones: the filter, and the deviation it is given; level and tilt drop out there.

    ``rows`` are the places of its bands in a song's curve, ``centre_db`` is what a song is held against there.
    """

    matched: Filter
    rows: NDArray[np.intp]
    centre_db: Floats

    def against(self, curve_db: Sequence[float]) -> Floats:
        """Return a song's curve minus what it is held against."""
        difference: Floats = np.array(curve_db)[self.rows] - self.centre_db
        return difference


def _comparison(model: TargetModel, known_bands: NDArray[np.bool_], rows: NDArray[np.intp]) -> _Comparison:
    band_hz = model.model_hz[known_bands]
    free = np.stack([np.ones(len(band_hz)), np.log2(band_hz / 1000)], axis=1)
    precision = precision_of(model.covariance[np.ix_(known_bands, known_bands)], free)
    centre = np.array(model.record.third_octave_db)[rows] if model.centre_db is None else model.centre_db[known_bands]
    return _Comparison(Filter(band_hz, precision, lambda template: template), rows, centre)


@measurement
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
    corrections, reason = _corrections(spectrum, target_model, deviation, band_hz)
    absent = _absent("the sampling rate does not reach 10 kHz", "tilt_deviation_db_per_octave") if tilt_off is None else ()
    return Balance(
        third_octave_hz=tuple(float(value) for value in band_hz),
        deviation_db=tuple(float(value) for value in deviation),
        unusual=tuple(float(value) for value in level_free / np.array(record.spread_db[:count])),
        tilt_deviation_db_per_octave=tilt_off,
        bells=tuple(correction for correction in corrections if isinstance(correction, Bell)),
        shelves=tuple(correction for correction in corrections if isinstance(correction, Shelf)),
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


def _corrections(spectrum: Spectrum, model: TargetModel, deviation: Floats, band_hz: Floats) -> tuple[list[Bell | Shelf], str]:
    """Find bells and shelves; without enough bands none, and the reason. A top that was cut off is left out."""
    cut_off = (band_hz > TOP_HZ) & (deviation < NO_CONTENT_DB)
    rows = np.searchsorted(band_hz, model.model_hz * 0.99)
    known_bands = rows < len(band_hz)
    known_bands[known_bands] = ~cut_off[rows[known_bands]]
    rows = rows[known_bands]
    if len(rows) < LEAST_BANDS:
        return [], "too few bands are left to tell a bell from the song's own shape"
    comparison = _comparison(model, known_bands, rows)
    low, high = comparison.matched.band_hz[0] * BELLS_INSIDE, comparison.matched.band_hz[-1] / BELLS_INSIDE
    strongest = search(comparison.matched, comparison.against(spectrum.third_octave_db), bells(comparison.matched.band_hz, low, high))
    corrections: list[Bell | Shelf] = [_bell(match, spectrum, comparison) for match in strongest]
    together = _together(spectrum, model, band_hz[~cut_off])
    if together is not None:
        corrections += [_shelf(match, spectrum, deviation) for match in _ends(together.matched, together.deviation, low, high)]
    elif model.record.songs:  # songs in general end as they like, as far as the mix's own curve tells
        ends = _ends(comparison.matched, comparison.against(spectrum.third_octave_db), low, high)
        corrections += [_shelf(match, spectrum, deviation) for match in ends]
    return corrections, ""


def _ends(matched: Filter, off_db: Floats, low_hz: float, high_hz: float) -> list[FittedShape]:
    """Find shelves; bells are looked for beside them, since a bell near an end must not be told as a shelf."""
    shapes = bells(matched.band_hz, low_hz, high_hz) + shelves(matched.band_hz)
    return [match for match in search(matched, off_db, shapes) if match.shape.kind != "bell"]


@dataclass(frozen=True, slots=True)
class _Together:
    """The curves of a song's parts against finished songs' (`features.tone.part_covariance`), one after another, with their filter."""

    band_hz: Floats
    matched: Filter
    deviation: Floats


def _together(spectrum: Spectrum, model: TargetModel, band_hz: Floats) -> _Together | None:
    """Return what is judged together; None with references, whose parts are not kept, or where the song was not separated."""
    curves = stacked(spectrum)
    if model.part_covariance is None or curves is None:
        return None
    table = model.part_covariance
    shared_bands = np.isin(table.band_hz.round(3), band_hz.round(3))
    rows = np.searchsorted(np.array(spectrum.third_octave_hz), table.band_hz[shared_bands] * 0.99)
    deviation = part_deviation(curves[:, rows], table, shared_bands)
    return _Together(table.band_hz[shared_bands], part_filter(table, shared_bands), deviation)


def _bell(match: FittedShape, spectrum: Spectrum, comparison: _Comparison) -> Bell:
    agree, part = _parts(match, spectrum, comparison)
    shape = match.shape
    return Bell(shape.frequency_hz, match.shrunk_db, shape.q, match.strength, agree, part, _where(match, spectrum))


def _shelf(match: FittedShape, spectrum: Spectrum, deviation: Floats) -> Shelf:
    """Tell how far the bands that a shelf moves by more than half stand off the target on average; of lows above 20 Hz."""
    band_hz = np.array(spectrum.third_octave_hz[: len(deviation)])
    hz = match.shape.frequency_hz
    reached = band_hz > hz if match.shape.kind == "high_shelf" else band_hz < hz
    lies_db = float(np.mean(deviation[reached & (band_hz > SHELF_HZ[0]) & (band_hz < SHELF_HZ[1])]))
    lifted = match.gain_db > 0.0 and match.shape.kind != "high_pass"
    return Shelf(match.shape.kind, hz, lies_db, match.strength if lifted else -match.strength)


def _parts(match: FittedShape, spectrum: Spectrum, comparison: _Comparison) -> tuple[bool | None, str]:
    """Tell whether every part of the song shows the bell, and the part that shows it most.

    A room or a monitor bends everything alike; an instrument stands in one part only.
    """
    curves = {
        "percussive": spectrum.percussive_db,
        "sustained": spectrum.sustained_db,
        "mid": spectrum.mid_db,
        "side": _audible_side(match, spectrum),
    }
    times = {"dense": spectrum.dense_db, "quiet": spectrum.quiet_db}
    share = {
        name: comparison.matched.gain(comparison.against(curve), match.shape.template)[0] / match.gain_db
        for name, curve in {**curves, **times}.items()
        if curve
    }
    most = max((name for name in curves if name in share), key=lambda name: share[name], default="mix")
    part = most if share.get(most, 0.0) > STANDS_OUT else "mix"
    if "percussive" not in share or "sustained" not in share:
        return None, part
    agree = min(share.values()) > AGREEING_SHARE
    return agree, "mix" if agree else part


def _audible_side(match: FittedShape, spectrum: Spectrum) -> tuple[float, ...] | None:
    """Return the side curve where the side is loud enough at the bell to matter."""
    if spectrum.side_db is None:
        return None
    band = int(np.argmin(np.abs(np.log2(np.array(spectrum.third_octave_hz) / match.shape.frequency_hz))))
    return spectrum.side_db if spectrum.side_db[band] - spectrum.mid_db[band] > SIDE_COUNTS_DB else None


def _where(match: FittedShape, spectrum: Spectrum) -> tuple[Span, ...]:
    """Return up to three places where the bands of a rise stand highest, its centre's first; a hollow has no place."""
    if match.gain_db < 0:
        return ()
    distance = np.abs(np.log2(np.array(spectrum.third_octave_hz) / match.shape.frequency_hz))
    spans: list[Span] = []
    for band in np.argsort(distance, kind="stable")[:3]:
        span = spectrum.band_loudest[int(band)]
        if all(abs(span.start_s - chosen.start_s) > 5.0 for chosen in spans):
            spans.append(span)
    return tuple(spans)
