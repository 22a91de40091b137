"""Levels of stretches of a spectrum."""

from math import log10

from features.records.spectrum import Spectrum


def mean_between(hz: tuple[float, ...], values: tuple[float, ...], low_hz: float, high_hz: float) -> float | None:
    """Return the mean of the bands between two frequencies.

    Those whose centres lie from ``low_hz`` to ``high_hz``; None when there is none.
    """
    chosen = [value for centre, value in zip(hz, values, strict=True) if low_hz <= centre <= high_hz]
    return sum(chosen) / len(chosen) if chosen else None


def band_level_dbfs(spectrum: Spectrum, low_hz: float, high_hz: float) -> float | None:
    """Return the usual level of a stretch of the spectrum.

    Its third-octave bands' power per Hz times their widths, summed.
    """
    if spectrum.level_db is None:
        return None
    width = 10.0**0.05 - 10.0**-0.05  # of a third octave, over its centre (IEC 61260-1)
    powers = [
        10.0 ** ((spectrum.level_db + curve_db) / 10.0) * width * hz
        for hz, curve_db in zip(spectrum.third_octave_hz, spectrum.third_octave_db, strict=True)
        if low_hz <= hz <= high_hz
    ]
    return 10.0 * log10(sum(powers)) if powers else None
