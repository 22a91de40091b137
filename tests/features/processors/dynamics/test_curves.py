"""Saturation and waveshaper: harmonics as the series says, nothing folded back, the peak kept."""

import numpy as np
import pytest
from scipy.signal import resample_poly

from features.processors.dynamics.curves import CHUNK, CONTEXT, Singles, shaped
from features.processors.dynamics.saturation import saturate
from features.processors.dynamics.waveshaper import raise_body
from features.sound.signal import Samples, Signal
from tests import signals

RATE = signals.RATE_HZ


def harmonic(samples: Samples, number: int, cycles: int) -> float:
    """Amplitude of a harmonic of a tone with ``cycles`` periods in the second half of a second."""
    spectrum = np.abs(np.fft.rfft(samples[0, RATE // 4 : RATE // 4 + RATE // 2].astype(float))) / (RATE / 4)
    return float(spectrum[number * cycles])


@pytest.mark.parametrize("drive_db", [3.0, 9.0])
def test_third_harmonic_follows_the_power_series(drive_db: float) -> None:
    """``tanh(k x) / k = x - k^2 x^3 / 3 + ...``, so ``h3 = a3 A^3 / 4 = k^2 A^3 / 12`` for small A (closed form)."""
    level, k = 0.05, 10 ** (drive_db / 20) - 1
    tone = signals.signal(level * signals.sine(200.0, 1.0))
    done = saturate(tone, drive_db).samples
    assert harmonic(done, 3, 100) == pytest.approx(k**2 * level**3 / 12, rel=0.02)
    assert harmonic(done, 2, 100) < 1e-7  # odd symmetry


@pytest.mark.parametrize(("overdrive_db", "h3", "h5"), [(1.0, 0.03684, 0.02472), (3.0, 0.12923, 0.02609), (6.02, 0.22633, 0.04527)])
def test_clipping_gives_the_closed_form_harmonics(overdrive_db: float, h3: float, h5: float) -> None:
    """Hard-clipped sine: ``b_n = (2/pi) [sin((n-1)t)/(n-1) - sin((n+1)t)/(n+1) + 2c cos(nt)/n]``, ``t = asin c`` (closed form)."""
    top = np.float32(10 ** (-overdrive_db / 20))

    def clip(x: Singles) -> Singles:
        return np.clip(x, -top, top).astype(np.float32)

    done = shaped(signals.sine(200.0, 1.0), clip)
    assert harmonic(done, 3, 100) / harmonic(done, 1, 100) == pytest.approx(h3, abs=2e-4)
    assert harmonic(done, 5, 100) / harmonic(done, 1, 100) == pytest.approx(h5, abs=2e-4)


def test_folded_harmonics_are_far_down() -> None:
    """A 9 kHz tone: its third harmonic, 27 kHz, would fold to 21 kHz, its fifth to 3 kHz."""
    tone = signals.signal(signals.sine(9000.0, 1.0, peak_dbfs=-1.0))
    done = saturate(tone, 12.0).samples
    plain = np.tanh(3 * tone.samples) / 3
    spectrum, folded = (np.abs(np.fft.rfft(output[0, 12000:36000].astype(float) * np.blackman(24000))) for output in (done, plain))
    at = 3000 // 2
    assert 20 * np.log10(folded[at - 3 : at + 4].max() / spectrum[at - 3 : at + 4].max()) > 40.0


def test_neutral_settings_return_the_same_samples() -> None:
    noise = signals.signal(signals.pink(0.2))
    assert saturate(noise, 0.0) is noise
    assert raise_body(noise, 0.0) is noise
    silent = signals.signal(signals.silence(0.1))
    assert not raise_body(silent, 6.0).samples.any()
    assert not saturate(silent, 6.0).samples.any()


def test_a_little_saturation_is_a_little_change() -> None:
    noise = signals.signal(signals.white(0.2))
    assert np.abs(saturate(noise, 0.05).samples - noise.samples).max() < 1e-4


def test_soft_sounds_keep_their_level() -> None:
    tone = signals.signal(signals.sine(1000.0, 0.5, peak_dbfs=-50.0))
    assert np.allclose(saturate(tone, 6.0).samples, tone.samples, rtol=1e-3, atol=1e-7)


@pytest.mark.parametrize("raise_db", [1.0, 3.0, 6.0])
def test_waveshaper_keeps_the_peak_and_raises_the_body(raise_db: float) -> None:
    song = signals.signal(signals.drums(3.0) + signals.pink(3.0, rms_dbfs=-30.0))
    done = raise_body(song, raise_db)
    peaks = [np.abs(resample_poly(sound.samples.astype(float), 8, 1, axis=1)).max() for sound in (song, done)]
    assert 20 * np.log10(peaks[1] / peaks[0]) == pytest.approx(0.0, abs=0.4)  # what band-limiting leaves of flat tops rings
    quiet = slice(int(0.4 * RATE), int(0.49 * RATE))
    power = [float(np.square(sound.samples[:, quiet]).mean()) for sound in (song, done)]
    assert 10 * np.log10(power[1] / power[0]) == pytest.approx(raise_db, abs=0.3)


def test_waveshaper_with_a_stated_peak_can_be_run_in_pieces() -> None:
    samples = signals.drums(2.0)
    whole = raise_body(signals.signal(samples), 4.0, 0.0).samples
    piece = raise_body(signals.signal(samples[:, 20000 - CONTEXT : 50000 + CONTEXT]), 4.0, 0.0).samples[:, CONTEXT:-CONTEXT]
    assert np.allclose(piece, whole[:, 20000:50000], rtol=0.0, atol=1e-6)


def test_chunks_leave_no_seam() -> None:
    def cube(x: Singles) -> Singles:
        bent: Singles = x - x**3 / np.float32(3)
        return bent

    tone = signals.sine(1000.0, (CHUNK + 5000) / RATE, peak_dbfs=-6.0)
    done = shaped(tone, cube)[0]
    period = RATE // 1000
    middle = slice(CHUNK - 480, CHUNK + 480)
    assert done[middle] == pytest.approx(done[middle.start - 100 * period : middle.stop - 100 * period], abs=1e-5)


def test_negative_amounts_are_refused() -> None:
    noise = signals.signal(signals.pink(0.1))
    with pytest.raises(ValueError, match="saturation"):
        saturate(noise, -1.0)
    with pytest.raises(ValueError, match="body"):
        raise_body(noise, -1.0)


@pytest.mark.parametrize("frames", [0, 1, 5])
@pytest.mark.parametrize("channels", [1, 2])
def test_short_sounds(frames: int, channels: int) -> None:
    sound = Signal(np.full((channels, frames), 0.5, np.float32), RATE)
    assert saturate(sound, 6.0).samples.shape == (channels, frames)
    assert raise_body(sound, 6.0).samples.shape == (channels, frames)
