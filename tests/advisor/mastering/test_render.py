"""The preview master: at the target, under the ceiling, 24 bits with dither, the same whatever the pieces; and lossy coding."""

import shutil
import subprocess
from pathlib import Path

import numpy as np
import pyloudnorm
import pytest
import soundfile
from scipy.signal import resample_poly

from advisor.app.errors import RequestError
from advisor.app.progress import Quiet
from advisor.audition.names import PREVIEW
from advisor.mastering import lossy
from advisor.mastering.chain import Chain, Glue
from advisor.mastering.render import MasteredSong, dithered, render, settled
from features.loudness.true_peak import true_peaks
from features.processors.dynamics.limiter import limit
from features.records.base import Span
from features.sound.signal import Signal
from tests.sounds.master_song import RATE, song

CHAIN = Chain(-1.0, 2.0, 4.0, 0.04, Glue(-14.0, 2.0, 2.0), None, 1.0, 0.0)

CODECS = {"MP3", "Vorbis", "Opus", *(["AAC"] if shutil.which("ffmpeg") else [])}


def test_the_preview_is_at_the_target_under_the_ceiling(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(lossy, "FORMATS", lossy.FORMATS[:1])
    made = render(song(seconds=6), CHAIN, -12.0, tmp_path, Span(0.0, 6.0), Quiet())
    samples, rate = soundfile.read(tmp_path / PREVIEW)
    assert soundfile.info(tmp_path / PREVIEW).subtype == "PCM_24"
    assert pyloudnorm.Meter(rate).integrated_loudness(samples) == pytest.approx(-12.0, abs=0.1)
    assert 20 * np.log10(max(true_peaks(samples.T.astype(np.float32), rate))) <= -1.0
    assert made.lufs == pytest.approx(-12.0, abs=0.05)
    assert made.file == PREVIEW
    assert b"Preview of a mastering chain" in (tmp_path / PREVIEW).read_bytes()[-400:]


def test_pieces_give_what_the_whole_gives(monkeypatch: pytest.MonkeyPatch) -> None:
    whole = CHAIN.process(song()).samples
    monkeypatch.setattr("advisor.mastering.render.CHUNK_S", 4.0)
    pieces = MasteredSong(song(), CHAIN)
    made = pieces.read(0, pieces.frames)
    assert made.shape == whole.shape
    assert np.abs(made - whole).max() < 2e-3


def test_dither_is_triangular_and_no_louder_than_one_step() -> None:
    silent = Signal(np.zeros((2, 200000), np.float32), RATE)
    noise = np.concatenate(list(dithered(silent)), axis=1) * 2**23
    assert np.abs(noise).max() <= 1.0
    assert noise.var() == pytest.approx(1 / 6, rel=0.02)  # two even distributions of width 1: 2/12
    assert np.abs(noise).mean() == pytest.approx(1 / 3, rel=0.02)
    assert np.array_equal(np.concatenate(list(dithered(silent)), axis=1) * 2**23, noise)


def test_silence_is_refused() -> None:
    silent = Signal(np.zeros((2, RATE), np.float32), RATE)
    with pytest.raises(RequestError, match="silent"):
        settled(silent, CHAIN, -12.0, Quiet())


def test_dense_peaks_grow_in_lossy_formats_and_the_ceiling_avoids_it() -> None:
    made = limit(song(seconds=4), 8.0, -0.1).signal
    coded, length_s = lossy.code(made, None, -0.1)
    assert length_s == 4.0
    assert {copy.codec for copy in coded} == CODECS
    assert coded[0].true_peak_dbtp > 0.0
    assert coded[0].overs > 0
    safe = lossy.safe_ceiling_dbtp(coded, -0.1)
    assert safe is not None
    lower = Signal(made.samples * np.float32(10 ** ((safe + 0.1) / 20)), RATE)
    again, _ = lossy.code(lower, None, safe)
    assert again[0].true_peak_dbtp <= 0.25
    assert sorted(copy.kbps for copy in coded if copy.codec == "MP3") == pytest.approx([128, 320], rel=0.1)


def test_aac_peaks_are_those_that_ffmpeg_decodes(tmp_path: Path) -> None:
    """Held to files that ffmpeg writes and reads by its own formats, and to a peak at the eightfold rate."""
    if shutil.which("ffmpeg") is None:
        pytest.skip("ffmpeg is not installed")
    made = limit(song(seconds=4), 8.0, -0.1).signal
    coded, _ = lossy.code(made, None, -0.1)
    loudest = max(copy.true_peak_dbtp for copy in coded if copy.codec == "AAC")
    soundfile.write(tmp_path / "made.wav", made.samples.T, RATE, subtype="FLOAT")
    peaks = []
    for kbps in (128, 256):
        for command in (["made.wav", "-c:a", "aac", "-b:a", f"{kbps}k", "made.m4a"], ["made.m4a", "-c:a", "pcm_f32le", "back.wav"]):
            subprocess.run(["ffmpeg", "-y", "-v", "error", "-i", *command], cwd=tmp_path, check=True)
        back, _ = soundfile.read(tmp_path / "back.wav", always_2d=True)
        peaks.append(20 * np.log10(np.abs(resample_poly(back, 8, 1, axis=0)).max()))
    assert loudest == pytest.approx(max(peaks), abs=0.1)


def test_without_ffmpeg_there_is_no_aac_and_the_rest_stays(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(shutil, "which", lambda _: None)
    coded, _ = lossy.code(limit(song(seconds=1), 3.0, -1.0).signal, None, -1.0)
    assert {copy.codec for copy in coded} == {"MP3", "Vorbis", "Opus"}


@pytest.mark.parametrize("rate_hz", [8000, 96000])
def test_other_rates_are_encoded_too(rate_hz: int) -> None:
    coded, _ = lossy.code(limit(song(rate_hz, 2), 3.0, -1.0).signal, None, -1.0)
    assert {copy.codec for copy in coded} == CODECS


def test_a_long_song_is_taken_around_its_densest_part(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(lossy, "MOST_S", 2.0)
    monkeypatch.setattr(lossy, "FORMATS", lossy.FORMATS[:1])
    coded, length_s = lossy.code(song(), Span(6.0, 8.0), -1.0)
    assert length_s == 2.0
    assert len(coded) == 1


def test_silence_has_no_coded_peak() -> None:
    coded, _ = lossy.code(Signal(np.zeros((2, RATE), np.float32), RATE), None, -120.0)
    assert coded == ()
    assert lossy.safe_ceiling_dbtp(coded, -120.0) is None
