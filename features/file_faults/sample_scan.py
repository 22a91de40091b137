"""One pass over the samples for `features.file_faults.health`.

Flat tops, digital silence, single-sample jumps, the grid of values.
Samples are read as whole numbers of 2**-23 (24-bit steps): exact for files of up to 24 bits, rounded towards zero for float files, whose
finer values are counted. All findings are kept as short lists of events; state runs on from block to block.
"""

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from features.sound.compiled import kernel
from features.sound.signal import Samples

Integers = NDArray[np.int64]

FULL_SCALE = 1 << 23
LARGEST = 31 * FULL_SCALE  # louder float samples are read as this
SEGMENT = 64
PIECE = 1 << 16
FLAT_TOLERANCE = 512  # two 16-bit steps, so that a clipped file that was turned down and rounded is still flat
LEAST_TOP = FULL_SCALE // 100  # -40 dBFS
LEAST_JUMP = FULL_SCALE // 250  # second difference of a click 2/1000 of full scale high
SOUND = FULL_SCALE // 1000  # -60 dBFS
SMALL_VALUES = 1 << 16
CONTEXT_S = 0.06
GUARD_S, NEAR_S = 0.0004, 0.005
SHORTEST_GAP_S, EDGE_S = 0.005, 0.001

# Places in the state kept per channel.
TOTAL, BITS, FINE, HIGHEST, LOWEST, FIRST_SOUND, LAST_SOUND = range(7)
RUN_START, RUN_LEVEL, ZERO_START, ZERO_EDGE, ROUGHNESS = range(7, 12)
PLACES = 12


@kernel
def _to_steps(wave: Samples, start: int, stop: int, steps: NDArray[np.int32], state: Integers, small: NDArray[np.bool_]) -> None:
    """Turn samples into whole steps; collect sum, used bits, finer values, extremes and which small values occur."""
    total, bits, fine = np.int64(0), np.int64(0), np.int64(0)
    highest, lowest = state[HIGHEST], state[LOWEST]
    for i in range(start, stop):
        scaled = min(max(wave[i] * np.float32(FULL_SCALE), np.float32(-LARGEST)), np.float32(LARGEST))
        steps[i] = np.int32(scaled)
        value = np.int64(steps[i])
        total += value
        size = abs(value)
        bits |= size
        fine += np.int64(np.float32(steps[i]) != scaled)
        highest = max(highest, value)
        lowest = min(lowest, value)
    for i in range(start, stop):
        size = abs(steps[i])
        if size < SMALL_VALUES:
            small[size] = True
    state[TOTAL] += total
    state[BITS] |= bits
    state[FINE] += fine
    state[HIGHEST], state[LOWEST] = highest, lowest


@kernel
def _is_cut(steps: NDArray[np.int32], first: int, after: int, level: int) -> bool:
    """Tell a top that was cut off from a rounded one and from the roof of a square wave.

    The wave must come and go over three samples that differ from one another (a square wave jumps), and two samples outside it must be
    further below than a parabola through the run would be: 4 times tolerance x ((h + 2) / h)^2, h = half the run.
    """
    sign = 1 if level > 0 else -1
    half = (after - first) / 2.0
    needed = 4.0 * FLAT_TOLERANCE * ((half + 2.0) / half) ** 2
    for edge, way in ((first, -1), (after - 1, 1)):
        near, second, third = steps[edge + way], steps[edge + 2 * way], steps[edge + 3 * way]
        if sign * (level - near) <= FLAT_TOLERANCE or abs(near - second) <= FLAT_TOLERANCE or abs(second - third) <= FLAT_TOLERANCE:
            return False
        if max(sign * (level - near), sign * (level - second)) < needed:
            return False
    return True


@kernel
def _flat_tops(steps: NDArray[np.int32], start: int, stop: int, origin: int, state: Integers, events: Integers) -> int:
    """Write (position, length, level) of each flat top that ends in ``start``-``stop``; return how many there are."""
    runs = 0
    run, level = state[RUN_START] - origin, state[RUN_LEVEL]
    for base in range(start, stop, SEGMENT):
        near, top = np.int64(0), 0
        for i in range(base, base + SEGMENT):
            near += np.int64(abs(steps[i] - steps[i - 1]) <= 2 * FLAT_TOLERANCE)
            top = max(top, abs(steps[i]))
        crowded = near > 0 and top >= LEAST_TOP
        for i in range(base, base + SEGMENT if crowded else base + 1):  # elsewhere only a run from before can end
            if abs(steps[i] - level) <= FLAT_TOLERANCE:
                continue
            length = i - run
            if length >= 3 and abs(level) >= LEAST_TOP and run >= 4 and _is_cut(steps, run, i, level):
                events[runs, 0], events[runs, 1], events[runs, 2] = run + origin, length, level
                runs += 1
            run, level = i, steps[i]
        if not crowded:
            run, level = base + SEGMENT - 1, steps[base + SEGMENT - 1]
    state[RUN_START], state[RUN_LEVEL] = run + origin, level
    return runs


@kernel
def _edge_size(steps: NDArray[np.int32], at: int, way: int, short: int) -> int:
    """Return the RMS of the ``short`` samples from ``at`` on where the sound stands as high as in a stretch 10 times longer, else 0."""
    near, far = 0.0, 0.0
    for k in range(short * 10):
        square = float(steps[at + way * k]) ** 2
        far += square
        if k < short:
            near += square
    near, far = (near / short) ** 0.5, (far / (short * 10)) ** 0.5
    return int(near) if near >= 0.3 * far else 0


@kernel
def _zero_runs(steps: NDArray[np.int32], start: int, stop: int, origin: int, state: Integers, sizes: Integers, events: Integers) -> int:
    """Write (start, length, sound before, sound after) of digital silence of 5 ms or more; ``sizes`` = (5 ms, 1 ms) in samples."""
    runs = 0
    shortest, short = sizes[0], sizes[1]
    for base in range(start, stop, SEGMENT):
        used = np.int64(0)
        for i in range(base, base + SEGMENT):
            used += np.int64(steps[i] != 0)
        if used == SEGMENT and state[ZERO_START] < 0:
            continue
        for i in range(base, base + SEGMENT):
            if steps[i] == 0:
                if state[ZERO_START] < 0:
                    state[ZERO_START] = i + origin
                if i + origin - state[ZERO_START] + 1 == shortest:
                    state[ZERO_EDGE] = _edge_size(steps, i - shortest, -1, short)
            elif state[ZERO_START] >= 0:
                length = i + origin - state[ZERO_START]
                if length >= shortest:
                    events[runs, 0], events[runs, 1] = state[ZERO_START], length
                    events[runs, 2], events[runs, 3] = state[ZERO_EDGE], _edge_size(steps, i, 1, short)
                    runs += 1
                state[ZERO_START] = -1
    return runs


@kernel
def _bend(steps: NDArray[np.int32], i: int) -> int:
    return int(abs(steps[i + 1] - 2 * steps[i] + steps[i - 1]))


@kernel
def _stands_alone(steps: NDArray[np.int32], at: int, height: int, sizes: Integers) -> bool:
    """Return whether a bend is over after two samples (0.3 of it is left), within 5 ms (a sixth), and 60 ms hold none like it (0.6)."""
    guard, near, context = sizes[2], sizes[3], sizes[4]
    for k in range(3, context - 1):
        bound = 0.6 * height if k >= near else height / 6.0 if k >= guard else 0.3 * height  # drawn-out pulses are sounds
        if _bend(steps, at - k) > bound or _bend(steps, at + k) > bound:
            return False
    return True


@kernel
def _is_break(steps: NDArray[np.int32], at: int, height: int, sizes: Integers) -> bool:
    """Return whether the wave's value breaks at ``at``, and no hit begins there.

    A click leaves the line through its neighbours on one side by at least a third of its second difference; a mere kink, as at the
    start of a drum's swing, does not. At a hit the wave moves twice as fast afterwards as before.
    """
    guard, near = sizes[2], 4 * sizes[3]
    left = abs(steps[at] - 2 * steps[at - 1] + steps[at - 2])
    right = abs(steps[at] - 2 * steps[at + 1] + steps[at + 2])
    if max(left, right) < 0.35 * height:
        return False
    before, after = 1.0, 1.0
    for k in range(guard, near):
        before += abs(steps[at - k] - steps[at - k - 1])
        after += abs(steps[at + k + 1] - steps[at + k])
    return after < 2.0 * before


@kernel
def _jumps(steps: NDArray[np.int32], start: int, stop: int, origin: int, state: Integers, sizes: Integers, events: Integers) -> int:
    """Write (position, second difference, its RMS within 5 ms) of single-sample jumps that stand alone; return how many."""
    runs = 0
    roughness = state[ROUGHNESS]
    for base in range(start, stop, SEGMENT):
        total, largest = 0, 0
        for i in range(base, base + SEGMENT):
            bend = abs(steps[i + 1] - 2 * steps[i] + steps[i - 1])
            total += bend
            largest = max(largest, bend)
        if largest > LEAST_JUMP and largest > 10 * roughness:
            at = base
            while _bend(steps, at) != largest:
                at += 1
            if _stands_alone(steps, at, largest, sizes) and _is_break(steps, at, largest, sizes):
                around = 0.0
                for k in range(sizes[2], sizes[3]):
                    around += float(_bend(steps, at - k)) ** 2 + float(_bend(steps, at + k)) ** 2
                events[runs, 0], events[runs, 1] = at + origin, largest
                events[runs, 2] = int((around / (2 * (sizes[3] - sizes[2]))) ** 0.5)
                runs += 1
        roughness = total // SEGMENT
    state[ROUGHNESS] = roughness
    return runs


@kernel
def _sound_span(steps: NDArray[np.int32], start: int, stop: int, origin: int, state: Integers) -> None:
    """Keep the first and last position above -60 dBFS."""
    for base in range(start, stop, SEGMENT):
        top = 0
        for i in range(base, base + SEGMENT):
            top = max(top, abs(steps[i]))
        if top < SOUND:
            continue
        for i in range(base, base + SEGMENT):
            if abs(steps[i]) >= SOUND:
                if state[FIRST_SOUND] < 0:
                    state[FIRST_SOUND] = i + origin
                state[LAST_SOUND] = i + origin


@dataclass(slots=True)
class ChannelScan:
    """What one pass found in one channel.

    Positions in samples from the start, heights in steps of 2**-23.
    """

    state: Integers
    small: NDArray[np.bool_]
    flat: list[Integers] = field(default_factory=list)  # rows: bin of 100 ms, level in 16-bit steps, count, longest
    zeros: list[Integers] = field(default_factory=list)  # rows: start, length, sound before, sound after
    jumps: list[Integers] = field(default_factory=list)  # rows: position, second difference, its surroundings

    def rows(self, events: list[Integers], columns: int) -> Integers:
        """Return a list of event arrays as one array."""
        return np.concatenate([np.zeros((0, columns), np.int64), *events])


def grouped_tops(events: Integers, bin_samples: int) -> Integers:
    """Return flat tops by level.

    From (position, length, level) to rows of bin, level in 16-bit steps, count, longest.
    """
    bins, levels = events[:, 0] // bin_samples, np.round(events[:, 2] / 256.0).astype(np.int64)
    keys, place, count = np.unique(np.stack([bins, levels], axis=1), axis=0, return_inverse=True, return_counts=True)
    longest = np.zeros(count.size, np.int64)
    np.maximum.at(longest, place.ravel(), events[:, 1])
    return np.column_stack([keys, count, longest])


class SampleScan:
    """The pass itself: push blocks, then `finish`."""

    def __init__(self, rate_hz: int, channels: int) -> None:
        """Prepare the context around each sample.

        The tests look at 60 ms on both sides.
        """
        self._context = max(int(CONTEXT_S * rate_hz), 64)
        self._bin_samples = max(rate_hz // 10, 1)
        near = max(round(NEAR_S * rate_hz), 12)
        self._sizes = np.array(
            [
                max(round(SHORTEST_GAP_S * rate_hz), 8),
                max(round(EDGE_S * rate_hz), 4),
                max(round(GUARD_S * rate_hz), 6),
                near,
                self._context,
            ],
            np.int64,
        )
        self._tail = np.zeros((channels, self._context), np.float32)  # silence before the song
        self._origin = -self._context
        state = np.zeros(PLACES, np.int64)
        state[[FIRST_SOUND, LAST_SOUND]] = -1
        state[[RUN_START, ZERO_START]] = (-self._context, -self._context)
        self.channels = [ChannelScan(state.copy(), np.zeros(SMALL_VALUES, bool)) for _ in range(channels)]
        self._events = np.zeros((PIECE // 3 + 64, 4), np.int64)
        self.frames = 0

    def push(self, block: Samples) -> None:
        """Take the next block, shape ``(channels, n)``."""
        self.frames += block.shape[1]
        for start in range(0, block.shape[1], PIECE):
            self._take(block[:, start : start + PIECE])

    def _take(self, piece: Samples) -> None:
        joined = np.concatenate([self._tail, piece], axis=1)
        ready = (joined.shape[1] - 2 * self._context) // SEGMENT * SEGMENT
        if ready > 0:
            for channel, wave in zip(self.channels, joined, strict=True):
                self._scan(channel, wave, self._context, self._context + ready)
            self._origin += ready
            joined = joined[:, ready:]
        self._tail = joined.copy()

    def _scan(self, channel: ChannelScan, wave: Samples, start: int, stop: int) -> None:
        steps = np.empty(wave.size, np.int32)
        scrap, no_values = np.zeros(PLACES, np.int64), np.zeros(SMALL_VALUES, bool)
        _to_steps(wave, 0, start, steps, scrap, no_values)
        _to_steps(wave, stop, wave.size, steps, scrap, no_values)
        _to_steps(wave, start, stop, steps, channel.state, channel.small)
        state, origin, events = channel.state, self._origin, self._events
        _sound_span(steps, start, stop, origin, state)
        if count := _flat_tops(steps, start, stop, origin, state, events):
            channel.flat.append(grouped_tops(events[:count], self._bin_samples))
        if count := _zero_runs(steps, start, stop, origin, state, self._sizes, events):
            channel.zeros.append(events[:count].copy())
        if count := _jumps(steps, start, stop, origin, state, self._sizes, events):
            channel.jumps.append(events[:count, :3].copy())

    def finish(self) -> list[ChannelScan]:
        """Return what was found per channel.

        What is left is scanned first, with silence after it.
        """
        self._take(np.zeros((len(self.channels), 2 * self._context + SEGMENT), np.float32))
        return self.channels
