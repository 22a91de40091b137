"""How the need for compression is judged on real stems: as they are, made raw, and squashed.

usage: compression_need.py --songs DIR        (DIR/SONG/stems/*.flac; nothing is read without it)

Most stems are programmed: finished, or unclear. Raw: every note or stroke jumps by 6 to 10 dB against the one before (stretches of
0.4 to 1.2 s where nothing strikes). Squashed: 12 dB of reduction at 20:1, 0.2 ms attack, 60 ms release. Numpy and our own compressor; the
jumps do not go through any of our processors. Sounds that die at once hold nothing that a compressor could lift, so squashing strokes is
found only where their body rings.
"""

import argparse
import sys
from collections import Counter
from pathlib import Path

import numpy as np

from features.elements.dynamics.attacks import find_attacks
from features.elements.dynamics.dynamics import measure_dynamics
from features.elements.dynamics.envelope import EnvelopeMeter, EnvelopeTrace
from features.processors.dynamics.compressor import Curve, Timing, compress, reduction_db, threshold_for
from features.records.elements import ElementDynamics, Role
from features.sound.load import open_source
from features.sound.signal import Samples, Signal

WORDS: tuple[tuple[str, Role], ...] = (
    ("kick", "kick"), ("snare", "snare"), ("hat", "hats"), ("cymbal", "hats"), ("conga", "percussion"), ("drums", "drums"),
    ("bass", "bass"), ("lead", "lead"), ("pad", "pad"), ("string", "strings"), ("key", "keys"), ("piano", "keys"),
    ("guitar", "guitar"), ("flute", "lead"), ("synth", "synth"), ("fx", "effects"),
)  # fmt: skip
SQUASH = Timing(attack_ms=0.2, release_ms=60.0)
STATES = ("raw", "finished", "over-compressed", "unclear")


def role_of(name: str) -> Role:
    return next((role for word, role in WORDS if word in name), "other")


def enveloped(samples: Samples, rate_hz: int) -> EnvelopeTrace:
    meter = EnvelopeMeter(rate_hz, samples.shape[0])
    meter.push(np.ascontiguousarray(samples, np.float32))
    return meter.finish()


def jumping(samples: Samples, rate_hz: int, seed: int) -> Samples:
    """Return the stem with jumps of 6 to 10 dB between notes."""
    random = np.random.default_rng(seed)
    envelope = enveloped(samples, rate_hz)
    steps = envelope.peak.size
    cuts = [0]
    for place in [*find_attacks(envelope.peak, envelope.mean_square).steps.tolist(), steps]:
        while place - cuts[-1] > 1500:
            cuts.append(cuts[-1] + int(random.uniform(400, 1200)))
        if place - cuts[-1] > 60:
            cuts.append(max(place - 12, 0))
    gain_db, level_db = np.zeros(steps), 0.0
    for start, end in zip(cuts, [*cuts[1:], steps], strict=True):
        jump = random.uniform(6.0, 10.0) * random.choice((-1.0, 1.0))
        level_db += jump if -13.0 <= level_db + jump <= 5.0 else -jump
        gain_db[start:end] = level_db
    smooth = np.convolve(np.pad(gain_db, 5, mode="edge"), np.ones(11) / 11, "valid")
    at = np.interp(np.arange(samples.shape[1]) * 1000 / rate_hz, np.arange(steps), smooth)
    return (samples * 10 ** (at / 20)).astype(np.float32)


def squashed(samples: Samples, rate_hz: int) -> Samples:
    sound = Signal(samples, rate_hz)
    threshold = threshold_for(sound, 12.0, 20.0, SQUASH)
    return samples if threshold is None else compress(sound, Curve(threshold, 20.0), SQUASH, 6.0).samples


def reduction_on_sound(samples: Samples, rate_hz: int, element_dynamics: ElementDynamics) -> float | None:
    """Return what the settings found take off the sound itself in the loud moments."""
    if (
        element_dynamics.threshold_dbfs is None
        or element_dynamics.ratio is None
        or element_dynamics.attack_ms is None
        or element_dynamics.release_ms is None
    ):
        return None
    sound = Signal(np.ascontiguousarray(samples, np.float32), rate_hz)
    taken = reduction_db(
        sound,
        Curve(element_dynamics.threshold_dbfs, element_dynamics.ratio),
        Timing(element_dynamics.attack_ms, element_dynamics.release_ms),
    )
    level = np.repeat(enveloped(samples, rate_hz).mean_square, rate_hz // 1000)[: taken.size]
    loud = np.quantile(level[level > level.max() * 1e-6], 0.95)
    return float(np.quantile(taken[: level.size][level > loud * 1e-3], 0.95))


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--songs", type=Path)
    arguments = parser.parse_args()
    if arguments.songs is None:
        sys.exit("nothing to measure: give --songs DIR with a folder of stems for each song")
    table: dict[str, Counter[str]] = {kind: Counter() for kind in ("as it is", "made raw", "squashed")}
    errors = []
    for number, path in enumerate(sorted(arguments.songs.glob("*/stems/*.flac"))):
        with open_source(path) as opened:
            rate_hz = opened.source.rate_hz
            samples = opened.source.read(0, opened.source.frames)
        role = role_of(path.stem)
        states = []
        kinds = {"as it is": samples, "made raw": jumping(samples, rate_hz, number), "squashed": squashed(samples, rate_hz)}
        for kind, sound in kinds.items():
            element_dynamics = measure_dynamics(enveloped(sound, rate_hz), (), role)
            table[kind][element_dynamics.state] += 1
            setting = (
                ""
                if element_dynamics.ratio is None
                else f" {element_dynamics.threshold_dbfs:.0f} dB {element_dynamics.ratio:.0f}:1 -{element_dynamics.reduction_db:.1f}"
            )
            states.append(f"{element_dynamics.state + setting:32}")
            true = reduction_on_sound(sound, rate_hz, element_dynamics)
            if true is not None and element_dynamics.reduction_db is not None:
                errors.append(true - element_dynamics.reduction_db)
        print(f"{path.parent.parent.name:15} {path.stem[:18]:18} {role:10} {' '.join(states)}")
    print(f"\n{'':12} {'  '.join(f'{state:>15}' for state in STATES)}")
    for kind, counts in table.items():
        print(f"{kind:12} {'  '.join(f'{counts[state]:15d}' for state in STATES)}")
    if errors:
        print(f"reduction on the sound minus that promised: {np.mean(errors):+.2f} dB, standard deviation {np.std(errors):.2f} dB")


if __name__ == "__main__":
    main()
