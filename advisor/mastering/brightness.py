"""Watches the tone of every mastering step at matched loudness.

Level control and curves brighten, and brighter is mistaken for better.
"""

from dataclasses import dataclass

import numpy as np

from advisor.app.progress import Quiet
from advisor.measuring.resolver import Resolver
from features.master_against_mix.tone_change import bright_change_db, changes, matched_change_db
from features.records.ear import Ear
from features.records.mastering import ToneChange
from features.records.spectrum import Spectrum
from features.sound.signal import Samples, Signal

# Steps that may be heard. Level of broad-band sound: 0.41 dB (Miller 1947); for tilt and share no published number was found: judgement.
BRIGHT_STEP_DB = 0.5
TILT_STEP_DB = 0.2
EAR_STEP = 0.015


@dataclass(frozen=True, slots=True)
class Tone:
    """Spectrum and ear-sensitive share of a stretch."""

    spectrum: Spectrum
    ear: Ear


@dataclass(frozen=True, slots=True)
class ToneStep:
    """What a step changed in tone, at matched loudness.

    ``noticeable`` says whether it passes a step that may be noticed.
    """

    bright_db: float
    tilt_db_per_octave: float
    ear_share: float
    changes: tuple[ToneChange, ...]
    moved_db: float = 0.0  # root mean square over the third octaves

    @property
    def noticeable(self) -> bool:
        """Whether the change may be noticed."""
        return abs(self.bright_db) >= BRIGHT_STEP_DB or abs(self.tilt_db_per_octave) >= TILT_STEP_DB or abs(self.ear_share) >= EAR_STEP


def tone_of(samples: Samples, rate_hz: int) -> Tone:
    """Measure a stretch."""
    resolver = Resolver(Signal(samples, rate_hz), (Spectrum, Ear), contain=False)
    resolver.listen(Quiet())
    resolver.make((Spectrum, Ear))
    return Tone(resolver.get(Spectrum), resolver.get(Ear))


def tone_step(before: Tone, after: Tone) -> ToneStep:
    """Compare two stretches at matched loudness."""
    change = matched_change_db(before.spectrum, after.spectrum)
    tilts = before.spectrum.tilt_db_per_octave, after.spectrum.tilt_db_per_octave
    shares = before.ear.share_2k_5k, after.ear.share_2k_5k
    return ToneStep(
        bright_db=bright_change_db(before.spectrum, after.spectrum) or 0.0,
        tilt_db_per_octave=0.0 if tilts[0] is None or tilts[1] is None else tilts[1] - tilts[0],
        ear_share=0.0 if shares[0] is None or shares[1] is None else shares[1] - shares[0],
        changes=changes(before.spectrum.third_octave_hz[: len(change)], change),
        moved_db=float(np.sqrt(np.mean(np.square(change)))) if len(change) else 0.0,
    )
