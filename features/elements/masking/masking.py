"""How audible each element is while the others play.

And which of them hide the rest of it.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from features.elements.meter import ElementTrace
from features.hearing.equal_loudness import contour
from features.hearing.masking import OFFSET_DB, SOFT_DB, ear, forward_decay
from features.mixture.stem_products import one_core
from features.sound.bands import erb_bands
from features.sound.compiled import kernel

Singles = NDArray[np.float32]
Floats = NDArray[np.float64]

BLOCK_FRAMES = 64  # 1.5 s: the detail in time that is kept
CROSSTALK = 0.25  # power of the far loudspeaker at each ear, relative to the near one's; a round value for a pair in a room
FLOOR_DB = -30.0  # what lies further below an element's own loud moments adds nothing to it (room, noise, the bands' skirts)
LOUD_SHARE = 0.9  # its loud moments: this quantile of its frames' power, while it sounds
SOUNDS_DB = -40.0
QUIET_DB = -55.0  # in each band, below the mix's loud moments: a room of 40 dB under music of 80; without it all is heard in pauses
CONTOUR_PHON = 60.0  # music heard at moderate level, per band
CONTOUR_SHARE = 0.5  # of the contour, in dB: with all of it kicks are judged by their clicks, with nothing of it pads by their lows


@dataclass(frozen=True, slots=True)
class Masked:
    """How ``n`` elements mask each other.

    Loudness here is ``power ** 0.25`` of excitation, summed over frames.

    Attributes
    ----------
    band_hz
        Centres of the ear's bands, shape ``(bands,)``.
    block_s, duration_s
        Length of a block, and of the song.
    loudness, audible_loudness
        Of each element in each block: how much there is, and how much of that stands above the others, shape ``(blocks, n)``.
    band_loudness
        How much there is in each band, shape ``(n, bands)``.
    hidden
        How much of element ``i`` is hidden by ``j`` in each band, shape ``(n, n + 1, bands)``; the last ``j`` is what the mix holds
        beyond the elements.
    hidden_when
        The same in each block, shape ``(blocks, n, n)``, float32.
    over, under
        Power of the hiding and of the hidden element where the one hides the other, shape ``(n, n, bands)``; only their ratio counts.
    """

    band_hz: Floats
    block_s: float
    duration_s: float
    loudness: Floats
    audible_loudness: Floats
    band_loudness: Floats
    hidden: Floats
    hidden_when: Singles
    over: Floats
    under: Floats

    def shares(self) -> tuple[float | None, ...]:
        """Return the audible share of each element, 0-1.

        None for one that is silent.
        """
        whole, audible = self.loudness.sum(axis=0), self.audible_loudness.sum(axis=0)
        return tuple(float(min(part / total, 1.0)) if total > 0 else None for part, total in zip(audible, whole, strict=True))


@kernel
def _mask(  # noqa: C901, PLR0913, PLR0917 - one pass over frames, bands and sounds; nothing is kept between them but sums
    excited: Singles,
    past: Floats,
    weight: Floats,
    quiet: Floats,
    floor: Floats,
    limits: tuple[float, float, float],
    sums: tuple[Floats, Floats],
    band_loudness: Floats,
    pairs: tuple[Floats, Floats, Floats],
    hidden_when: Singles,
) -> None:
    """Add up what is heard and what is hidden in some frames.

    ``excited`` is excitation of shape ``(sounds, ears, frames, bands)``; ``past`` what of it still masks, shape ``(sounds, ears,
    bands)``, changed in place. Elements are as many as ``floor`` has values; sounds beyond them only mask.
    """
    elements = len(floor)
    sounds, ears = excited.shape[0], excited.shape[1]
    offset, soft, decay = limits
    loudness, loudness_heard = sums
    hidden, over, under = pairs
    total = np.zeros(ears)
    for frame in range(excited.shape[2]):
        for band in range(excited.shape[3]):
            for ear_ in range(ears):
                total[ear_] = 0.0
                for j in range(sounds):
                    past[j, ear_, band] = max(past[j, ear_, band] * decay, np.float64(excited[j, ear_, frame, band]))
                    total[ear_] += past[j, ear_, band]
            for i in range(elements):
                power = 0.0
                best, at, others = -1.0, 0, 0.0
                for ear_ in range(ears):
                    own = np.float64(excited[i, ear_, frame, band])
                    power += own / ears
                    masker = max(total[ear_] - past[i, ear_, band], 0.0) + quiet[band]
                    if own / masker > best:
                        best, at, others = own / masker, ear_, masker
                loud = np.sqrt(np.sqrt(weight[band] * power)) - floor[i]
                if loud <= 0.0:
                    continue
                audible = min(max(0.5 + 0.5 * 10 * np.log10(best / offset) / soft, 0.0), 1.0)
                loudness[0, i] += loud
                loudness_heard[0, i] += loud * audible
                band_loudness[i, band] += loud
                if audible < 1.0:
                    lost = (1.0 - audible) / others
                    for j in range(sounds):
                        if j == i:
                            continue
                        part = lost * past[j, at, band]
                        hidden[i, j, band] += loud * part
                        if j < elements:
                            hidden_when[i, j] += np.float32(loud * part)
                            over[i, j, band] += part * past[j, at, band]
                            under[i, j, band] += part * excited[i, at, frame, band]


def loudness_weights(band_hz: Floats) -> Floats:
    """Return the power gain by which each band counts.

    Half of the ear's sensitivity in dB (ISO 226:2023, 60 phon), 1 at 1 kHz.

    Examples
    --------
    >>> loudness_weights(np.array([50.0, 1000.0])).round(3).tolist()
    [0.032, 1.0]
    """
    gain: Floats = 10 ** (-CONTOUR_SHARE * (contour(band_hz, CONTOUR_PHON) - CONTOUR_PHON) / 10)
    return gain


def loud_power(trace: ElementTrace) -> float:
    """Return the ear-weighted power of an element's loud moments.

    The 90th percentile of its frames, while it sounds.
    """
    power = trace.both() @ loudness_weights(erb_bands(trace.rate_hz).centre_hz).astype(np.float32)
    sounding = power[power > 10 ** (SOUNDS_DB / 10) * power.max(initial=0.0)]
    return float(np.quantile(sounding, LOUD_SHARE)) if len(sounding) else 0.0


def at_the_ears(trace: ElementTrace, frames: slice, ears: int) -> Singles:
    """Return band powers at each ear, shape ``(ears, frames, bands)``.

    With one ear, the mean of the channels.
    """
    left, right = trace.left[frames], trace.right[frames]
    if trace.left is trace.right:
        return np.broadcast_to(left, (ears, *left.shape))
    if ears == 1:
        return trace.both()[frames][None]
    far, whole = np.float32(CROSSTALK), np.float32(1 / (1 + CROSSTALK))
    return np.stack([(left + far * right) * whole, (right + far * left) * whole])


def mask(
    traces: Sequence[ElementTrace],
    rest: ElementTrace | None = None,
    gains_db: Sequence[float] | None = None,
    loud: Sequence[float] | None = None,
) -> Masked:
    """Return how elements that sound together mask each other.

    Parameters
    ----------
    traces
        Of the elements, all at one rate and from the same start.
    rest
        Of what the mix holds beyond them; it masks, and is not judged.
    gains_db
        Gain of each element, in dB; none when not given.
    loud
        `loud_power` of each element at those gains, for an excerpt that is judged by the whole song's loud moments.

    Notes
    -----
    Excitation: power in bands one Cam wide, spread as in `features.hearing.masking`, held with its forward decay. At each ear (the near
    loudspeaker, and the far one 6 dB lower) a cell of an element is heard when it stands above the sum of all others less 4 dB,
    in a step 6 dB wide; the better ear counts. What is hidden is shared out among the others by their part of that sum.
    The quiet of a room masks too: in each band, by the ear's sensitivity, 55 dB below the sum of all loud moments.
    Cells weigh as ``(sensitivity power) ** 0.25``, less the value 30 dB below the element's own loud moments.
    Waveforms are taken as unrelated: powers add. Gains change nothing but the powers, so a trial need only measure again what it changed.
    """
    rate_hz = traces[0].rate_hz
    bands = erb_bands(rate_hz)
    sounds = [*traces, rest] if rest is not None else list(traces)
    ears = 1 if all(trace.left is trace.right for trace in sounds) else 2
    gains = np.ones(len(sounds), np.float32)
    gains[: len(traces)] = [10 ** (gain / 10) for gain in gains_db or [0.0] * len(traces)]
    if loud is None:
        loud = [loud_power(trace) * float(gain) for trace, gain in zip(traces, gains, strict=False)]
    floor = (np.array(loud, np.float64) * 10 ** (FLOOR_DB / 10)) ** 0.25
    floor[floor == 0.0] = np.inf
    count, hop_s = max(len(trace.left) for trace in sounds), traces[0].hop_s
    spread, weight = ear(rate_hz, bands).spread, loudness_weights(bands.centre_hz)
    everything = sum(loud) + (loud_power(rest) if rest is not None else 0.0)
    quiet = np.maximum(everything * 10 ** (QUIET_DB / 10) / weight, 1e-30)
    n, blocks, m = len(traces), -(-count // BLOCK_FRAMES), len(bands)
    loudness, loudness_heard, band_loudness = np.zeros((blocks, n)), np.zeros((blocks, n)), np.zeros((n, m))
    pairs = (np.zeros((n, n + 1, m)), np.zeros((n, n, m)), np.zeros((n, n, m)))
    hidden_when = np.zeros((blocks, n, n), np.float32)
    past = np.zeros((len(sounds), ears, m))
    limits = (10 ** (-OFFSET_DB / 10), SOFT_DB, forward_decay(hop_s))
    with one_core():
        for block in range(blocks):
            rows = slice(block * BLOCK_FRAMES, min((block + 1) * BLOCK_FRAMES, count))
            excited = _excited(sounds, gains, rows, ears) @ spread
            sums = (loudness[block : block + 1], loudness_heard[block : block + 1])
            _mask(excited, past, weight, quiet, floor, limits, sums, band_loudness, pairs, hidden_when[block])
    return Masked(
        bands.centre_hz, BLOCK_FRAMES * hop_s, max(trace.duration_s for trace in sounds), loudness, loudness_heard, band_loudness, pairs[0],
        hidden_when, pairs[1], pairs[2],
    )  # fmt: skip


def _excited(sounds: Sequence[ElementTrace], gains: Singles, rows: slice, ears: int) -> Singles:
    """Return band powers of all sounds in some frames, shape ``(sounds, ears, frames, bands)``; past a sound's end, silence."""
    powers = np.zeros((len(sounds), ears, rows.stop - rows.start, sounds[0].left.shape[1]), np.float32)
    for number, sound in enumerate(sounds):
        at_ears = at_the_ears(sound, rows, ears)
        np.multiply(at_ears, gains[number], out=powers[number, :, : at_ears.shape[1]])
    return powers


def audible_shares(
    traces: Sequence[ElementTrace], rest: ElementTrace | None = None, gains_db: Sequence[float] | None = None
) -> tuple[float | None, ...]:
    """Return the audible share of each element at some gains.

    0-1; None for a silent one. See `mask`.
    """
    return mask(traces, rest, gains_db).shares()
