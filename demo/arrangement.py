"""Plays a plan.

One function a stem, from the written parts to a finished, balanced stereo track.
"""

import zlib
from collections.abc import Callable, Iterator

import numpy as np

from demo import drums, instruments
from demo.filters import bell, cut, ducked, echoed, filtered, reverberant, room, shelf, swept, widened
from demo.plan import Chord, MelodyNote, Plan, bars, chord_at, melody, steps
from demo.song import HARBOUR
from demo.tones import RATE_HZ, Curve, amplitude_of, frames_of, panned, place, silence
from demo.voice import Syllable, sing
from features.sound.signal import Samples, Signal

_BLOCK = 96  # frames between two settings of the bass filter
_SLOW_BLOCK = 256  # the same for filters that glide over bars
LEVELS_DB = {
    "kick": -9.0,
    "snare": -12.0,
    "hats": -10.0,
    "percussion": -14.0,
    "bass": -12.0,
    "chords": -19.0,
    "pad": -18.5,
    "lead": -16.5,
    "voice": -15.0,
    "effects": -20.0,
}


def _random(seed: int, word: str) -> np.random.Generator:
    """Return a generator of its own for every stem, so that stems can be made in any order."""
    return np.random.default_rng([seed, zlib.crc32(word.encode())])


def _length(plan: Plan) -> int:
    return frames_of(plan.duration_s)


def kick_times_s(plan: Plan) -> list[float]:
    """Return when the kick plays.

    For everything that makes room for it.
    """
    return [hit.time_s for hit in steps(plan, "kick")]


def _hits(
    plan: Plan,
    rng: np.random.Generator,
    part: str,
    make: Callable[[float], Curve],
    *,
    position: float = 0.0,
    late_s: float = 0.003,
    takes: int = 5,
) -> Samples:
    """Play a drum part: several takes at three strengths, so that no two neighbours are the same recording."""
    track = silence(_length(plan))
    strengths = (0.35, 0.65, 1.0)
    drum = [[make(strength) for _ in range(takes)] for strength in strengths]
    for number, hit in enumerate(steps(plan, part)):
        force = float(np.clip(hit.velocity * (1.0 + 0.05 * rng.standard_normal()), 0.05, 1.0))
        layer = int(np.argmin([abs(force - strength) for strength in strengths]))
        sound = drum[layer][number % takes]
        start_s = hit.time_s + float(np.clip(rng.normal(0.0, late_s), -0.012, 0.012))
        place(track, panned(sound, position), start_s, force / strengths[layer])
    return track


def _kick(plan: Plan, rng: np.random.Generator) -> Samples:
    track = _hits(plan, rng, "kick", lambda force: drums.kick(rng, force, plan.kick_hz), late_s=0.0012)
    return filtered(track, cut(28.0, low=True), bell(280.0, -4.0, 1.0), bell(3200.0, 2.0, 0.9))


def _snare(plan: Plan, rng: np.random.Generator) -> Samples:
    track = _hits(plan, rng, "snare", lambda force: drums.snare(rng, force, plan.snare_hz), late_s=0.003)
    track += 0.8 * _hits(plan, rng, "clap", lambda force: drums.clap(rng, force), late_s=0.004)
    shaped = filtered(track, cut(95.0, low=True), bell(450.0, -3.0, 1.2), shelf(7000.0, 1.5, low=False))
    return reverberant(shaped, room(rng, 0.7, 0.008), -13.0)


def _hats(plan: Plan, rng: np.random.Generator) -> Samples:
    track = _hits(plan, rng, "hats", lambda force: drums.hat(rng, force), position=0.25, late_s=0.004, takes=8)
    track += 0.8 * _hits(plan, rng, "open_hats", lambda force: drums.hat(rng, force, 0.12, 0.97), position=0.25, late_s=0.003)
    for section, start_s in zip(plan.sections, plan.starts_s(), strict=False):
        if section.impact:
            place(track, np.stack([drums.crash(rng, 0.9), drums.crash(rng, 0.9)]), start_s, 0.8)
    return reverberant(track, room(rng, 0.5, 0.004), -20.0)


def _percussion(plan: Plan, rng: np.random.Generator) -> Samples:
    """Play shaker on busy patterns, wooden blocks on sparse ones, and toms in the fills."""
    track = silence(_length(plan))
    for hit in steps(plan, "percussion"):
        start_s = hit.time_s + float(rng.normal(0.0, 0.005))
        busy = hit.section.percussion.count(".") < 8
        sound = panned(drums.shaker(rng, hit.velocity), -0.45) if busy else panned(drums.block(rng, hit.velocity), -0.6)
        place(track, sound, start_s)
    for start_s, bar, _, section in bars(plan):
        if section.fill and bar == section.bars - 1:
            for number, (beat, low_hz) in enumerate(((2.5, 165.0), (2.75, 165.0), (3.25, 122.0), (3.75, 92.0))):
                place(track, panned(drums.tom(rng, 0.8 + 0.1 * number / 3, low_hz), 0.5 - 0.3 * number), start_s + beat * plan.beat_s, 0.7)
    return reverberant(filtered(track, cut(80.0, low=True)), room(rng, 0.9, 0.01), -13.0)


def _bass_pitch(chord: Chord, mark: str) -> int:
    return chord.bass + {"o": 12, "f": 7}.get(mark, 0)


def _bass(plan: Plan, rng: np.random.Generator) -> Samples:
    count = _length(plan)
    sub, edge = silence(count)[:1], silence(count)[:1]
    cutoff_hz = np.full(count // _BLOCK + 1, 180.0, dtype=np.float32)
    time = np.arange(cutoff_hz.size, dtype=np.float32) * _BLOCK / RATE_HZ
    for note in steps(plan, "bass"):
        pitch = _bass_pitch(chord_at(plan, note.section, note.bar), note.mark)
        force = note.velocity * (1.0 if note.step % 4 == 0 else 0.86) * float(1.0 + 0.04 * rng.standard_normal())
        start_s = note.time_s + float(rng.normal(0.0, 0.002))
        low, high = instruments.bass(rng, pitch, note.length_s * 0.92, force)
        place(sub, low, start_s)
        place(edge, high, start_s)
        first = int(start_s * RATE_HZ / _BLOCK)
        span = slice(max(first, 0), first + int((note.length_s + 0.1) * RATE_HZ / _BLOCK))
        open_hz = 250.0 + (500.0 + 1500.0 * note.section.energy) * force
        cutoff_hz[span] = 190.0 + open_hz * np.exp(-np.maximum(time[span] - start_s, 0.0) / 0.13)
    eased_hz = np.convolve(np.pad(cutoff_hz, 1, mode="edge"), np.ones(3, dtype=np.float32) / 3.0, mode="valid")
    shaped = swept(edge, eased_hz.astype(np.float32), 1.6, _BLOCK)
    mixed = np.tanh(0.9 * sub + 0.55 * filtered(shaped, cut(85.0, low=True)))
    clean = filtered(mixed, cut(34.0, low=True), bell(130.0, 2.0, 0.9), bell(290.0, -3.0, 0.9), bell(900.0, 4.0, 0.8))
    return np.repeat(ducked(clean, kick_times_s(plan), 5.0, 0.09), 2, axis=0)


def _chords(plan: Plan, rng: np.random.Generator) -> Samples:
    """Play the electric piano, and the saw stabs of the choruses through a filter that opens with the energy."""
    keys, stabs = silence(_length(plan)), silence(_length(plan))
    for hit in steps(plan, "keys"):
        chord = chord_at(plan, hit.section, hit.bar)
        for number, pitch in enumerate(chord.tones):
            position = 0.6 * (2.0 * number / max(len(chord.tones) - 1, 1) - 1.0)
            force = hit.velocity * float(rng.uniform(0.72, 0.95))
            strum_s = 0.006 * number + abs(float(rng.normal(0.0, 0.004)))
            place(keys, instruments.electric_piano(rng, pitch, hit.length_s, force, position), hit.time_s + strum_s)
    for hit in steps(plan, "stabs"):
        for pitch in chord_at(plan, hit.section, hit.bar).tones:
            sound = instruments.saws(rng, pitch + 12, hit.length_s * 0.9, hit.velocity * 0.9, spread=0.9, attack_s=0.006, release_s=0.14)
            place(stabs, sound, hit.time_s + float(rng.normal(0.0, 0.003)))
    cutoff_hz = _energy_curve(plan, 700.0, 5200.0)
    mixed = widened(keys, 0.0022, 0.7, 0.35) + 0.55 * swept(stabs, cutoff_hz, 0.9, _SLOW_BLOCK)
    shaped = filtered(mixed, cut(170.0, low=True), bell(320.0, -3.0, 0.8), bell(2300.0, 1.5, 0.8))
    return ducked(reverberant(shaped, room(rng, 1.1, 0.02), -11.0), kick_times_s(plan), 2.0)


def _energy_curve(plan: Plan, low: float, high: float) -> Curve:
    """Return a curve over the song, one value a block, that glides from section to section with its energy."""
    points = np.arange(_length(plan) // _SLOW_BLOCK + 1) * _SLOW_BLOCK / RATE_HZ
    starts = plan.starts_s()
    times, values = [], []
    for section, start_s, end_s in zip(plan.sections, starts[:-1], starts[1:], strict=True):
        times += [start_s, end_s - 0.3]
        values += [section.energy * (0.85 if section.riser else 1.0), min(section.energy * (1.3 if section.riser else 1.0), 1.0)]
    energy = np.interp(points, times, values)
    drift = 1.0 + 0.12 * np.sin(2.0 * np.pi * 0.11 * points)
    return (low * (high / low) ** energy * drift).astype(np.float32)


def _pad(plan: Plan, rng: np.random.Generator) -> Samples:
    track = silence(_length(plan))
    for start_s, bar, _, section in bars(plan):
        if section.pad <= 0.0:
            continue
        for pitch in chord_at(plan, section, bar).tones:
            sound = instruments.saws(
                rng, pitch, plan.bar_s - 0.05, section.pad, spread=1.0, attack_s=0.28, release_s=0.7, shape=plan.pad_shape
            )
            place(track, sound, start_s)
    shaped = filtered(swept(track, _energy_curve(plan, 420.0, 2600.0), 0.8, _SLOW_BLOCK), cut(220.0, low=True), bell(350.0, -3.0, 0.7))
    return ducked(reverberant(shaped, room(rng, 2.2, 0.03), -6.0), kick_times_s(plan), 3.5, 0.2)


def _lead(plan: Plan, rng: np.random.Generator) -> Samples:
    line = silence(_length(plan))
    before: MelodyNote | None = None
    for note in melody(plan, "lead"):
        joined = before is not None and note.time_s - before.time_s - before.length_s < 0.02
        force = (0.6 + 0.4 * note.section.energy) * float(rng.uniform(0.82, 1.0))
        came_from = float(before.pitch) if before is not None and joined else None
        sound = instruments.lead(rng, note.pitch, note.length_s, force, came_from, plan.lead_shape)
        place(line, sound, note.time_s + float(rng.normal(0.0, 0.004)))
        before = note
    plucks = silence(_length(plan))
    for hit in steps(plan, "arpeggio"):
        tones = chord_at(plan, hit.section, hit.bar).tones
        order = (0, 1, 2, 1, len(tones) - 1, 1, 2, 0)
        pitch = tones[order[hit.step % 8] % len(tones)] + (24 if hit.step % 16 >= 8 and hit.step % 4 == 2 else 12)
        position = 0.7 if hit.step % 4 < 2 else -0.7
        place(plucks, instruments.pluck(rng, pitch, hit.velocity * float(rng.uniform(0.7, 1.0)), position), hit.time_s)
    soft = filtered(line, cut(4800.0, low=False), cut(260.0, low=True)) + 0.55 * filtered(plucks, cut(300.0, low=True))
    return reverberant(echoed(soft, 0.75 * plan.beat_s, -8.0), room(rng, plan.room_s, 0.02), -12.0)


def _syllables(plan: Plan, rng: np.random.Generator, shift: float, late_s: float, *, doubles_only: bool) -> list[Syllable]:
    notes = []
    for note in melody(plan, "voice"):
        if doubles_only and not note.section.doubled:
            continue
        start_s = max(note.time_s + float(rng.normal(0.004, late_s)), 0.0)
        force = float(np.clip((0.45 + 0.5 * note.section.energy) * rng.uniform(0.85, 1.05), 0.2, 1.0))
        pitch = note.pitch + plan.voice_shift + shift + float(rng.normal(0.0, 0.04))
        notes.append(Syllable(start_s, note.length_s * 0.94, pitch, note.text, force))
    return notes


def _voice(plan: Plan, rng: np.random.Generator) -> Samples:
    """Sing the tune in the middle, and in the choruses twice more at the sides."""
    count = _length(plan)
    track = sing(rng, _syllables(plan, rng, 0.0, 0.006, doubles_only=False), count)
    for position in (-0.85, 0.85):
        double = sing(rng, _syllables(plan, rng, 0.0, 0.014, doubles_only=True), count)
        track += 0.6 * panned(double[0], position)
    shaped = filtered(track, cut(150.0, low=True), bell(480.0, -2.5, 1.0), bell(3100.0, 2.5, 0.8), shelf(9000.0, 3.0, low=False))
    levelled = filtered(np.tanh(1.1 * shaped), cut(140.0, low=True))
    return reverberant(echoed(levelled, plan.beat_s, -17.0, 0.35), room(rng, plan.room_s, 0.035), -13.0)


def _effects(plan: Plan, rng: np.random.Generator) -> Samples:
    """Play the risers into, the booms on, and the reversed swells before the sections."""
    track = silence(_length(plan))
    for section, start_s, end_s in zip(plan.sections, plan.starts_s()[:-1], plan.starts_s()[1:], strict=True):
        if section.riser:
            length_s = min(2, section.bars) * plan.bar_s
            place(track, instruments.riser(rng, length_s), end_s - length_s)
        if section.impact:
            place(track, instruments.impact(rng), start_s)
        if section.fill or section.riser:
            swell = np.stack([drums.crash(rng, 0.8), drums.crash(rng, 0.8)])[:, ::-1]
            place(track, swell[:, -frames_of(plan.bar_s * 0.75) :], end_s - min(plan.bar_s * 0.75, 2.4))
    return reverberant(echoed(track, 0.5 * plan.beat_s, -14.0), room(rng, 2.6, 0.02), -9.0)


_PLAYERS: dict[str, Callable[[Plan, np.random.Generator], Samples]] = {
    "kick": _kick,
    "snare": _snare,
    "hats": _hats,
    "percussion": _percussion,
    "bass": _bass,
    "chords": _chords,
    "pad": _pad,
    "lead": _lead,
    "voice": _voice,
    "effects": _effects,
}
STEM_NAMES = tuple(_PLAYERS)


def make_stem(plan: Plan, name: str, seed: int) -> Samples:
    """Play one stem at its level in the mix.

    Shape ``(2, frames)``.
    """
    track = _PLAYERS[name](plan, _random(seed, plan.title + name))
    track *= np.float32(amplitude_of(LEVELS_DB[name] + plan.levels_db.get(name, 0.0)))
    fade = min(frames_of(1.2), track.shape[1])
    track[:, -fade:] *= np.linspace(1.0, 0.0, fade, dtype=np.float32) ** 2
    return track


def stems(plan: Plan, seed: int) -> Iterator[tuple[str, Samples]]:
    """Play the stems one after another.

    So that a caller may keep only one in memory.
    """
    for name in STEM_NAMES:
        yield name, make_stem(plan, name, seed)


def make_song(seed: int = 1, plan: Plan = HARBOUR) -> dict[str, Signal]:
    """Return the stems of the demo song by name.

    Their plain sum is the mix without faults.
    """
    return {name: Signal(samples, RATE_HZ) for name, samples in stems(plan, seed)}
