"""The ways in which readings are shared out."""

from collections.abc import Mapping

import numpy as np
from numpy.typing import NDArray

from features.records.elements import Sharing
from features.shares.about import About
from features.shares.sampled import Mean, Sampled, as_it_is, both_ends, everything, first_of, highest, inside, last_of, second_difference
from features.shares.spectral import Spectral
from features.sound.k_weighting import HIGH_PASS_HZ, SHELF_DB, SHELF_HZ

Floats = NDArray[np.float64]

NEXT_OCTAVES = 0.5  # on each side of a bump: what it stands out of
HARMONICS, NEAR_HZ = 8, 4.0
QUIETEST, QUIET_HUM = 0.02, 0.25  # shares of the frames
STEP_NEAR_S, STEP_FAR_S = 0.3, 4.0
SILENT = 1e-9  # of the loudest frame


def _band(hz: Floats, about: About) -> Floats:
    low, high = about.band_hz or (20.0, 20000.0)
    return ((hz >= low) & (hz <= high)).astype(np.float64)


def _loudness(hz: Floats, about: About) -> Floats:
    """Weigh power as loudness does (BS.1770's curve, by its two corners)."""
    passed = (hz / HIGH_PASS_HZ) ** 4 / (1.0 + (hz / HIGH_PASS_HZ) ** 2) ** 2
    above = (hz / SHELF_HZ) ** 4
    shelf = (1.0 + 10.0 ** (SHELF_DB / 10.0) * above) / (1.0 + above)
    weights: Floats = passed * shelf
    return weights if about.band_hz is None else weights * _band(hz, about)


def _bump(hz: Floats, about: About) -> Floats:
    """Weigh what stands out of the neighbouring half octaves, taken as equal power per octave."""
    low, high = about.band_hz or (20.0, 20000.0)
    reach = 2.0**NEXT_OCTAVES
    beside = ((hz >= low / reach) & (hz < low)) | ((hz > high) & (hz <= high * reach))
    share = np.log2(high / low) / (2.0 * NEXT_OCTAVES)
    weights: Floats = _band(hz, about) - share * beside
    return weights


def _lines(hz: Floats, about: About) -> Floats:
    """Weigh the mains and its multiples: the finding's band starts a tenth below the first."""
    first_hz = (about.band_hz or (45.0, 0.0))[0] / 0.9
    lines = first_hz * np.arange(1, HARMONICS + 1)
    return np.asarray((np.abs(hz[:, None] - lines[None, :]).min(axis=1) <= NEAR_HZ), np.float64)


def _always(times: Floats, _course: Floats, _about: About) -> Floats:
    return np.ones(len(times))


def _then(times: Floats, _course: Floats, about: About) -> Floats:
    """Weigh the finding's times; all, where it names none."""
    chosen = [(times >= span.start_s) & (times <= span.end_s) for span in about.where]
    there = np.any(chosen, axis=0) if chosen else np.ones(len(times), bool)
    return (there if there.any() else np.ones(len(times))).astype(np.float64)


def _moving(_times: Floats, course: Floats, _about: About) -> Floats:
    """Weigh frames by how far the mix lies above its own mean: who moves with it has more of it."""
    playing = course > SILENT * course.max(initial=0.0)
    mean = float(course[playing].mean()) if playing.any() else 0.0
    return np.where(playing, course - mean, 0.0)


def _stepping(times: Floats, _course: Floats, about: About) -> Floats:
    """Weigh what comes after the step against what lies before it."""
    if not about.where:
        return np.zeros(len(times))
    middle = 0.5 * (about.where[0].start_s + about.where[0].end_s)
    after = (times > middle + STEP_NEAR_S) & (times < middle + STEP_FAR_S)
    before = (times < middle - STEP_NEAR_S) & (times > middle - STEP_FAR_S)
    weights: Floats = after / max(int(after.sum()), 1) - before / max(int(before.sum()), 1)
    return weights


def _quietest(course: Floats, share: float) -> Floats:
    playing = np.flatnonzero(course > SILENT * course.max(initial=0.0))
    order = playing[np.argsort(course[playing])]
    weights = np.zeros(len(course))
    weights[order[: max(round(share * len(order)), 2)]] = 1.0
    return weights


WAYS: Mapping[Sharing, Spectral | Sampled | Mean] = {
    "power": Spectral("both", _band, _always),
    "moments": Spectral("both", _band, _then, everywhere=False),
    "bump": Spectral("both", _bump, _always),
    "lean": Spectral("lean", _loudness, _always),
    "sides": Spectral("sides", _loudness, _always),
    "movement": Spectral("both", _band, _moving),
    "step": Spectral("both", _loudness, _stepping),
    "hum": Spectral("both", _lines, lambda _times, course, _about: _quietest(course, QUIET_HUM)),
    "noise": Spectral("both", _band, lambda _times, course, _about: _quietest(course, QUIETEST)),
    "offset": Mean(),
    "peaks": Sampled(inside(0.005), as_it_is, highest),
    "tops": Sampled(inside(0.0), as_it_is, highest),
    "breaks": Sampled(both_ends(0.004), second_difference, highest),
    "start": Sampled(first_of(0.002), as_it_is, everything),
    "end": Sampled(last_of(0.05), as_it_is, everything),
}
