"""Writes the demo to a folder.

Stems, two bounces, six references.
"""

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import soundfile

from demo.arrangement import stems
from demo.mixdown import with_faults
from demo.plan import Plan
from demo.references import make_references
from demo.song import HARBOUR
from demo.tones import RATE_HZ, frames_of, silence
from features.sound.signal import Samples


@dataclass(frozen=True, slots=True)
class DemoPaths:
    """Where the parts of the demo are.

    ``stems`` belong to bounce A and sum to it, ``stems_b`` to bounce B.

    ``history`` is a home of the demo's own, so that it leaves the user's history alone.
    """

    folder: Path
    bounce_a: Path
    bounce_b: Path
    stems: Path
    stems_b: Path
    references: Path
    history: Path


def _write(path: Path, samples: Samples) -> None:
    """Write 24-bit PCM; refuse to clip, which would spoil the demo without a word."""
    peak = float(np.abs(samples).max())
    if peak >= 1.0:
        raise ValueError(f"{path.name} would clip: its peak is {peak:.2f} of full scale")
    soundfile.write(path, samples.T, RATE_HZ, subtype="PCM_24")


def _write_bounces(paths: DemoPaths, plan: Plan, seed: int, progress: Callable[[str], None]) -> None:
    count = frames_of(plan.duration_s)
    bounces = {"a": silence(count), "b": silence(count)}
    folders = {"a": paths.stems, "b": paths.stems_b}
    for name, samples in stems(plan, seed):
        progress(f"playing the {name}")
        for bounce in bounces:
            part = with_faults(name, samples, bounce, plan)
            bounces[bounce] += part
            _write(folders[bounce] / f"{name}.wav", part)
    _write(paths.bounce_a, bounces["a"])
    _write(paths.bounce_b, bounces["b"])


def write_demo(folder: Path, progress: Callable[[str], None], seed: int = 1, plan: Plan = HARBOUR) -> DemoPaths:
    """Make the whole demo in ``folder``.

    Returns where everything is; ``progress`` is called with what is being made.
    """
    paths = DemoPaths(
        folder=folder,
        bounce_a=folder / "bounce-a.wav",
        bounce_b=folder / "bounce-b.wav",
        stems=folder / "stems",
        stems_b=folder / "stems-b",
        references=folder / "references",
        history=folder / "history",
    )
    for needed in (paths.stems, paths.stems_b, paths.references):
        needed.mkdir(parents=True, exist_ok=True)
    _write_bounces(paths, plan, seed, progress)
    for name, signal in make_references(seed):
        progress(f"mastering {name}")
        _write(paths.references / f"{name}.flac", signal.samples)
    return paths
