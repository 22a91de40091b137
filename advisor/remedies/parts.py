"""The parts of a mix, in samples and in words."""

import numpy as np

from features.processors.parts import percussive
from features.sound.signal import Samples, Signal
from rules.shared.words import PART_WORDS

CHANNELS = {"left": 0, "right": 1}
PARTS_OF_A_MIX = frozenset({"mix", "percussive", "sustained", "mid", "side", *CHANNELS})  # any other part is an element or a group
WORDS = {
    **PART_WORDS,
    "sustained": "the sustained sounds",
    "left": "the left channel",
    "right": "the right channel",
    "drums": "all of 'drums'",
    "music": "all of 'music'",
    "vocals": "all of 'vocals'",
}


def part_words(part: str) -> str:
    """Return a part in words.

    An element's name, or all of a group.
    """
    return WORDS.get(part, f"'{part}'")


def treated_channels(part: str, sound: Signal) -> tuple[int, ...]:
    """Return the channels to turn or delay.

    One of a mix, all of an element.
    """
    return (CHANNELS.get(part, 1),) if part in PARTS_OF_A_MIX else tuple(range(sound.channels))


def part_of(name: str, sound: Signal) -> Samples | None:
    """Return a part of the sound in its own channels.

    None when the sound has no such part.
    """
    samples = sound.samples
    if name in ("percussive", "sustained"):
        struck = _struck(sound)
        return struck if name == "percussive" else samples - struck
    if name == "mid":
        return np.broadcast_to(samples.mean(axis=0, keepdims=True), samples.shape).astype(np.float32)
    if sound.channels == 1:
        return None
    if name == "side":
        half = (samples[0] - samples[1]) * np.float32(0.5)
        return np.stack((half, -half))
    if name in CHANNELS:
        alone = np.zeros_like(samples)
        alone[CHANNELS[name]] = samples[CHANNELS[name]]
        return alone
    raise ValueError(f"a mix has no part called {name}")


_latest: list[tuple[Samples, Samples]] = []  # the separation of the sound that several amounts are tried on


def _struck(sound: Signal) -> Samples:
    if not _latest or _latest[0][0] is not sound.samples:
        _latest[:] = [(sound.samples, percussive(sound.samples, sound.rate_hz))]
    return _latest[0][1]
