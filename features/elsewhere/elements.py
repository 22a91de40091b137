"""What is left of each element in a listening condition.

From the elements' traces, thinned to some stretches: no sound is made again.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from math import inf

import numpy as np
from numpy.typing import NDArray

from features.elements.masking.masking import BLOCK_FRAMES, QUIET_DB, loud_power, loudness_weights, mask
from features.elements.meter import ElementTrace
from features.elsewhere.conditions import Condition
from features.elsewhere.levels import hidden_db, k_weights
from features.hearing.masking import ear
from features.records.base import Span
from features.records.ear import ElementElsewhere, Elsewhere
from features.sound.bands import Bands, erb_bands

Floats = NDArray[np.float64]
Singles = NDArray[np.float32]

MOST_BLOCKS = 20  # of 1.5 s each, spread evenly over the song
GATE = 0.1  # of the mean power: pauses do not count to the level that people listen at
LOW_HZ = 120.0
LEAST_HEARD = 0.02  # of an element at the desk: with less there is nothing to lose


@dataclass(frozen=True, slots=True)
class Played:
    """The elements of a song over some stretches of it.

    ``traces`` and ``rest`` are thinned; ``mono`` holds each band's power left in mono by element, None for equal channels.
    """

    names: tuple[str, ...]
    traces: tuple[ElementTrace, ...]
    rest: ElementTrace | None
    mono: Mapping[str, Floats]


def stretches(frames: int, hop_s: float) -> tuple[Span, ...]:
    """Return the stretches of the song that are listened to.

    >>> stretches(10, 0.02)
    (Span(start_s=0.0, end_s=0.2),)
    """
    return tuple(Span(rows.start * hop_s, rows.stop * hop_s) for rows in _rows(frames))


def _rows(frames: int) -> list[slice]:
    blocks = -(-frames // BLOCK_FRAMES)
    chosen = np.unique(np.linspace(0, blocks - 1, min(blocks, MOST_BLOCKS)).round().astype(int))
    return [slice(int(block) * BLOCK_FRAMES, min((int(block) + 1) * BLOCK_FRAMES, frames)) for block in chosen]


def thinned(trace: ElementTrace, frames: int) -> ElementTrace:
    """Return the trace over the stretches of a song.

    ``frames`` is the song's length in the trace's frames.
    """
    rows = _rows(frames)
    left = _cut(trace.left, rows)
    return replace(trace, left=left, right=left if trace.left is trace.right else _cut(trace.right, rows))


def _cut(power: Singles, rows: Sequence[slice]) -> Singles:
    out = np.zeros((sum(part.stop - part.start for part in rows), power.shape[1]), np.float32)
    at = 0
    for part in rows:
        piece = power[part]
        out[at : at + len(piece)] = piece
        at += part.stop - part.start
    return out


def with_elements(measured: Elsewhere, played: Played, conditions: Sequence[Condition], main: Sequence[str]) -> Elsewhere:
    """Add what is left of each element to every condition.

    Notes
    -----
    An element's share there is its audible loudness there over its loudness at the desk, both with the mix at one K-weighted loudness
    (listeners turn up what is soft). It is audible as far as it stands above the other elements, the noise and the threshold in
    quiet, as in `features.elements.masking`. Elements are taken as unrelated: what two of them cancel in mono is not seen.
    """
    bands = erb_bands(played.traces[0].rate_hz)
    desk = _Listener(played, bands)
    here = desk.shares()
    return replace(
        measured,
        conditions=tuple(
            replace(there, elements=_elements(played, bands, condition, (desk.elsewhere(condition), here), main))
            for there in measured.conditions
            for condition in conditions
            if condition.key == there.condition
        ),
    )


def _elements(
    played: Played, bands: Bands, condition: Condition, shares: tuple[Floats, Floats], main: Sequence[str]
) -> tuple[ElementElsewhere, ...]:
    known: list[ElementElsewhere] = []
    losses = _mono_losses(played, bands) if condition.mono_below_hz > 0.0 else {}
    lost = sum(low for _, _, low in losses.values())
    for name, share, desk in zip(played.names, *shares, strict=True):
        if desk >= LEAST_HEARD:
            loss_db, low_db, low = losses.get(name, (None, None, 0.0))
            low_share = low / lost if losses and lost > 0.0 else None
            in_mono_db = loss_db if condition.is_mono else None
            known.append(ElementElsewhere(name, float(share), float(desk), name in main, in_mono_db, low_db, low_share))
    return tuple(sorted(known, key=lambda element: (element.kept, element.name)))


def _mono_losses(played: Played, bands: Bands) -> dict[str, tuple[float, float, float]]:
    """Return what mono takes from each element: K-weighted and below 120 Hz, in dB, and its power there."""
    losses: dict[str, tuple[float, float, float]] = {}
    low = bands.centre_hz < LOW_HZ
    for name, trace in zip(played.names, played.traces, strict=True):
        power = trace.both().sum(axis=0, dtype=np.float64)
        mono = power * played.mono.get(name, np.ones(len(bands)))
        weights = k_weights(bands)
        lost = max(float((power - mono)[low].sum()), 0.0)
        losses[name] = _loss_db(power @ weights, mono @ weights), _loss_db(power[low].sum(), mono[low].sum()), lost
    return losses


def _loss_db(whole: float, left_over: float) -> float:
    return float(-10.0 * np.log10(max(left_over / whole, 1e-9))) if whole > 0.0 else 0.0


class _Listener:
    """Hears the elements at the desk, and compares."""

    def __init__(self, played: Played, bands: Bands) -> None:
        self._played, self._bands = played, bands
        sounds = [*played.traces, *([played.rest] if played.rest is not None else [])]
        self._sounds = sounds
        self._k = k_weights(bands)
        self._loud = [loud_power(trace) for trace in played.traces]
        self._weight = loudness_weights(bands.centre_hz)
        self._room = sum(loud_power(sound) for sound in sounds) * 10 ** (QUIET_DB / 10) / self._weight
        self._level = self._loudness(sounds)
        masked = mask(played.traces, played.rest, loud=self._loud, quiet=self._room)
        self._whole: Floats = masked.loudness.sum(axis=0)
        self._here: Floats = masked.audible_loudness.sum(axis=0)

    def _loudness(self, sounds: Sequence[ElementTrace]) -> float:
        """Return the K-weighted mean power of all sounds together, pauses left out."""
        power = np.sum([sound.both() @ self._k.astype(np.float32) for sound in sounds], axis=0)
        return float(power[power >= GATE * power.mean()].mean()) if len(power) else 0.0

    def shares(self) -> Floats:
        """Return each element's audible share at the desk."""
        return self._ratio(self._here)

    def _ratio(self, audible: Floats) -> Floats:
        ratio: Floats = np.divide(audible, self._whole, out=np.zeros(len(audible)), where=self._whole > 0.0)
        return np.minimum(ratio, 1.0)

    def elsewhere(self, condition: Condition) -> Floats:
        """Return what is audible of each element there, over its loudness at the desk."""
        if condition.sounds_as_at_the_desk:
            return self.shares()
        gain = 10.0 ** (condition.gain_db(self._bands.centre_hz) / 10.0)
        names = [*self._played.names, ""]
        changed = [self._changed(sound, condition, gain, name) for sound, name in zip(self._sounds, names, strict=False)]
        level = self._loudness(changed)
        if level <= 0.0:
            return np.zeros(len(self._whole))
        matched = self._level / level
        changed = [_times(sound, np.full(len(self._bands), matched)) for sound in changed]
        hidden = 10.0 ** ((hidden_db(condition, self._bands) + self._hearing(condition) - condition.level_db) / 10.0)
        place = (self._level * hidden) @ ear(self._played.traces[0].rate_hz, self._bands).spread
        count = len(self._played.traces)
        rest = changed[count] if len(changed) > count else None
        masked = mask(changed[:count], rest, loud=self._loud, quiet=np.maximum(place, self._room))
        audible: Floats = masked.audible_loudness.sum(axis=0)
        return self._ratio(audible)

    def _hearing(self, condition: Condition) -> Floats:
        """Return the ear's gain there: what masks is heard with it as the song is."""
        return condition.gain_db(self._bands.centre_hz) - condition.played_db(self._bands.centre_hz)

    def _changed(self, sound: ElementTrace, condition: Condition, gain: Floats, name: str) -> ElementTrace:
        if condition.ears == "left only":
            sound = replace(sound, right=sound.left)
        elif condition.mono_below_hz > 0.0:
            sound = self._folded(sound, condition, name)
        return _times(sound, gain)

    def _folded(self, sound: ElementTrace, condition: Condition, name: str) -> ElementTrace:
        """Return the sound with its channels added below a frequency."""
        if sound.left is sound.right:
            return sound
        left_over = self._played.mono.get(name, np.ones(len(self._bands)))
        mono = sound.both() * left_over.astype(np.float32)
        if condition.mono_below_hz == inf:
            return replace(sound, left=mono, right=mono)
        low = self._bands.centre_hz < condition.mono_below_hz
        return replace(sound, left=np.where(low, mono, sound.left), right=np.where(low, mono, sound.right))


def _times(sound: ElementTrace, gain: Floats) -> ElementTrace:
    """Return the sound with its bands' powers changed."""
    factor = gain.astype(np.float32)
    left = sound.left * factor
    return replace(sound, left=left, right=left if sound.left is sound.right else sound.right * factor)
