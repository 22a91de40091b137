"""A report with clips on the disk, for tests of its page."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import soundfile

from advisor.report_model.findings import ComparedReadings
from advisor.report_model.plan import MarkedMix, PlanStep, StepClips
from advisor.report_model.report import Report
from features.records.base import Span
from rules.remedy import Remedy
from tests import records
from tests.advisor.samples import finding, report, rule_that

RATE_HZ = 8000
CLIP_S = 12.0
MIX_S = 90.0
EVIL = "<script>alert(1)</script> **bold** lead_vox_2 `x` [a](javascript:b) | שיר 🎛️ & co"
READINGS = ComparedReadings(0.0, None, None, None, None, None)


def step(number: int, title: str = "Boomy low mids (290 Hz)") -> PlanStep:
    """Return a step with clips of the song's 0:55 to 1:07; its finding is at 1:01."""
    before, after = (f"audition/step-{number}-{which}.flac" for which in ("before", "after"))
    return PlanStep(
        step=number, stage="mixing", rule="mixing/one", stem=None, band_hz=None, title=title, confidence="high",
        remedy=Remedy("bell", frequency_hz=290.0, gain_db=-3.0, q=1.0), move="Cut 3 dB around 290 Hz", stop="", careful=(),
        where=(Span(61.0, 70.0),), outlook_after_lufs=None, excess_after=0.0, before=READINGS, after=READINGS, benefit=1.0,
        audition=StepClips(before, after, 55.0, 55.0 + CLIP_S, -18.0, same=False),
    )  # fmt: skip


def with_clips(name: str = "mix.wav", title: str = "Boomy low mids (290 Hz)") -> Report:
    """Return a report of two steps and a marked copy of a mix of a minute and a half."""
    made = report(rule_that(finding(2.0)), file=records.file(name=name, duration_s=MIX_S))
    return replace(made, plan=(step(1, title), step(2, title)), audition=MarkedMix("audition/mix-marked.wav", 1))


def write_clips(folder: Path) -> None:
    """Write tones as the clips and the marked copy of `with_clips`."""
    (folder / "audition").mkdir()
    for number in (1, 2):
        for which, hertz in (("before", 220.0), ("after", 330.0)):
            soundfile.write(folder / "audition" / f"step-{number}-{which}.flac", tone(hertz, CLIP_S), RATE_HZ, subtype="PCM_24")
    soundfile.write(folder / "audition" / "mix-marked.wav", tone(110.0, MIX_S), RATE_HZ, subtype="PCM_16")


def tone(hertz: float, seconds: float) -> "np.ndarray[tuple[int], np.dtype[np.float64]]":
    """Return a quiet tone."""
    wave: np.ndarray[tuple[int], np.dtype[np.float64]] = 0.1 * np.sin(2 * np.pi * hertz * np.arange(int(seconds * RATE_HZ)) / RATE_HZ)
    return wave
