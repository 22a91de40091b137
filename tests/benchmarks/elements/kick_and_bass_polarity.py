"""Kick against bass at reversed polarity, and stray hits of the drums: whether the critique finds them, and whether its plan mends them.

    python -m tests.benchmarks.elements.kick_and_bass_polarity --songs DIR [--only SONG ...]

DIR/SONG/stems/*.flac. In songs with a kick and a bass, two pairs that belong together in phase are made: the bass moved to where it sums
best with the kick, and in its place a sub layer, a sine that falls into step with each kick at the kick's own frequency. Then the bass is
reversed. Each goes as files through the whole critique: measured, judged, tried. Found: `kick_against_bass` among the findings. Low end:
energy of kick plus bass from 30 to 150 Hz around the kicks (scipy), in dB over the energies of both, which is 0 for unrelated sounds: in
step, reversed, and after the plan's moves on the bass (polarity and delay done with numpy). A bass whose phase against the kick differs
from note to note loses nothing when it is reversed, and must not be accused.

Strays: eight strong hits a minute of the drums raised by 6 to 8 dB in every stem of the group. Found: a finding of `group_stray_peaks` for
the group; caught: planted hits among its places; others: places without a plant. Plan: its limiter, and how far the planted hits stand
above the strongest other peak of the group before and after it.
"""

import argparse
import tempfile
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import soundfile
from numpy.typing import NDArray
from scipy import signal

from advisor.app.progress import Quiet
from advisor.app.settings import Settings
from advisor.app.yardstick import yardstick_of
from advisor.judging.judge import judge
from advisor.material import attach_stems, open_material
from advisor.measuring.measure import measure
from advisor.planning.plan_outcome import try_remedies
from features.processors.dynamics.peak_limiter import peak_limiter
from features.records.elements import Elements, KickAndBass
from features.sound.signal import Signal
from rules.base import Finding
from rules.remedy import Remedy
from tests.benchmarks.elements.group_settings import GROUP_WORDS, stray_gains_db

Floats = NDArray[np.float64]

BAND_HZ = (30.0, 150.0)
AROUND_S = (0.02, 0.12)
SUB_DB = -3.0  # of the kick's energy


@dataclass(frozen=True, slots=True)
class Run:
    """What the critique said of a folder of stems."""

    elements: Elements
    findings: tuple[tuple[str, Finding], ...]
    moves: tuple[Remedy, ...]

    def of(self, rule: str) -> list[Finding]:
        """Return the findings of one rule."""
        return [finding for name, finding in self.findings if name == f"mixing/{rule}"]


def run(stems: Mapping[str, Floats], rate_hz: int, *, advise: bool = True) -> Run:
    """Write the stems and take them through the critique."""
    with tempfile.TemporaryDirectory() as place:
        for name, samples in stems.items():
            soundfile.write(Path(place) / f"{name}.wav", samples, rate_hz, "FLOAT")
        with open_material(None, Path(place), Quiet()) as material:
            settings = Settings()
            measured = measure(material.source, material.file, material.not_finite, yardstick_of(settings), Quiet())
            measured, song = attach_stems(material, measured, yardstick_of(settings), Quiet())
            judged = judge(measured, yardstick_of(settings))
            tried = try_remedies(song, measured, judged, yardstick_of(settings), Quiet()) if advise else None
        elements = measured.records[Elements]
        assert isinstance(elements, Elements)
        findings = tuple((rule.id, its) for card in judged.cards for rule, its in ((card.rule, card.finding), *card.also))
        return Run(elements, findings, () if tried is None else tuple(tried.plan.remedies))


def read(song: Path) -> tuple[dict[str, Floats], int]:
    files = {path.stem: soundfile.read(path, always_2d=True) for path in sorted((song / "stems").glob("*.flac"))}
    return {name: samples for name, (samples, _) in files.items()}, next(iter(files.values()))[1]


def lows(samples: Floats, rate_hz: int) -> Floats:
    sections = signal.butter(4, BAND_HZ, "bandpass", fs=rate_hz, output="sos")
    return np.asarray(signal.sosfiltfilt(sections, samples.mean(axis=1)))


def hits(kick: Floats, rate_hz: int) -> NDArray[np.int64]:
    """Return where the kick's low end is strongest."""
    power = signal.fftconvolve(lows(kick, rate_hz) ** 2, np.full(rate_hz // 33, 33 / rate_hz), mode="same")
    places, _ = signal.find_peaks(power, height=0.1 * power.max(), distance=rate_hz // 8)
    return np.asarray(places, np.int64)


def sum_gain_db(kick: Floats, bass: Floats, rate_hz: int) -> float:
    """Return the energy of the sum around the kicks over the energies of both."""
    first, second = lows(kick, rate_hz), lows(bass, rate_hz)
    before, after = (round(side * rate_hz) for side in AROUND_S)
    rows = [slice(max(place - before, 0), place + after) for place in hits(kick, rate_hz)]
    both, apart = (sum(float(np.sum(energy[row])) for row in rows) for energy in ((first + second) ** 2, first**2 + second**2))
    return 10 * float(np.log10(both / apart))


def shifted(samples: Floats, delay_ms: float, rate_hz: int) -> Floats:
    """Return the sound later by some milliseconds."""
    frames = round(delay_ms * rate_hz / 1000)
    return np.asarray(np.roll(samples, frames, axis=0))


def sub_layer(kick: Floats, rate_hz: int) -> Floats:
    """Return a sine in step with every kick, at the kick's own frequency: its low end through a narrow resonance without delay."""
    low = lows(kick, rate_hz)
    spectrum = np.abs(np.fft.rfft(low))
    frequency_hz = float(np.argmax(spectrum)) * rate_hz / len(low)
    sections = signal.butter(1, (frequency_hz / 1.15, frequency_hz * 1.15), "bandpass", fs=rate_hz, output="sos")
    layer = signal.sosfiltfilt(sections, low)
    layer *= 10 ** (SUB_DB / 20) * np.sqrt(np.sum(low**2) / np.sum(layer**2))
    return np.asarray(np.repeat(layer[:, None], 2, axis=1))


def moved_bass(bass: Floats, moves: tuple[Remedy, ...], name: str, rate_hz: int) -> Floats:
    for move in moves:
        if move.part == name and move.kind == "polarity":
            bass = -bass
        if move.part == name and move.kind == "delay":
            bass = shifted(bass, move.delay_ms or 0.0, rate_hz)
    return bass


def show_polarity(song: Path) -> None:
    stems, rate_hz = read(song)
    plain = run(stems, rate_hz, advise=False)
    pair = plain.elements.kick_and_bass
    if pair is None:
        return
    print(f"{song.name:15s} as it is   {_said(plain)} low end {sum_gain_db(stems[pair.kick], stems[pair.bass], rate_hz):+5.1f} dB")
    aligned = shifted(stems[pair.bass], pair.best_delay_ms, rate_hz)
    for name, bass in (("moved", aligned), ("sub layer", sub_layer(stems[pair.kick], rate_hz))):
        _show_pair(song.name, name, {**stems, pair.bass: bass}, pair, rate_hz)


def _show_pair(song: str, way: str, stems: dict[str, Floats], pair: KickAndBass, rate_hz: int) -> None:
    kick, bass = stems[pair.kick], stems[pair.bass]
    right = run(stems, rate_hz, advise=False)
    wrong = run({**stems, pair.bass: -bass}, rate_hz)
    after = moved_bass(-bass, wrong.moves, pair.bass, rate_hz)
    gains = [sum_gain_db(kick, bass_version, rate_hz) for bass_version in (bass, -bass, after)]
    moves = ", ".join(
        f"{remedy.kind}{'' if remedy.delay_ms is None else f' {remedy.delay_ms:+.1f} ms'}"
        for remedy in wrong.moves
        if remedy.kind in {"polarity", "delay"}
    )
    print(
        f"{song:15s} {way:10s} in step: {_said(right)} | reversed: {_said(wrong)} | low end {gains[0]:+5.1f}, reversed {gains[1]:+5.1f}, "
        f"after the plan {gains[2]:+5.1f} dB ({moves or 'no move on polarity'})"
    )


def _said(result: Run) -> str:
    return "accused" if result.of("kick_against_bass") else "quiet  "


def show_strays(song: Path, seed: int) -> None:
    stems, rate_hz = read(song)
    drums = [name for name in stems if any(word in name for word in GROUP_WORDS["drums"])]
    if not drums:
        return
    whole = np.ascontiguousarray(np.sum([np.broadcast_to(stems[name], (len(stems[name]), 2)) for name in drums], axis=0).T, np.float32)
    gain_db, times_s = stray_gains_db(whole, rate_hz, seed)
    raised = run({**stems, **{name: stems[name] * 10 ** (gain_db[: len(stems[name]), None] / 20) for name in drums}}, rate_hz)
    group = next(group for group in raised.elements.groups if group.name == "drums")
    about = [
        finding
        for finding in raised.of("group_stray_peaks")
        if finding.remedy is not None and finding.remedy.part in {"drums", *group.members}
    ]
    places = np.array([(moment.start_s + moment.end_s) / 2 for moment in group.stray_peaks]) if about else np.zeros(0)
    caught = sum(bool(len(places)) and np.abs(places - time).min() < 0.15 for time in times_s)
    others = sum(np.abs(times_s - place).min() > 0.25 for place in places)
    limits = [remedy for remedy in raised.moves if remedy.kind == "peak_limiter"]
    own = [remedy for remedy in limits if remedy.part in {"drums", *group.members}]
    planted = Signal((whole * 10 ** (gain_db / 20)).astype(np.float32), rate_hz)
    heights = [_height_db(planted, times_s)]
    if own and own[0].ceiling_dbfs is not None:
        heights.append(_height_db(peak_limiter(planted, own[0].ceiling_dbfs), times_s))
    sentence = (
        f"plan: limiter on {own[0].part} at {own[0].ceiling_dbfs} dBFS"
        if own
        else f"plan: {[(remedy.kind, remedy.part) for remedy in raised.moves]}"
    )
    print(
        f"{song.name:15s} {'found    ' if about else 'not found'} {caught} of {len(times_s)} caught, {others} others; {sentence}; "
        f"planted hits above all others: {' -> '.join(f'{height_db:+.1f}' for height_db in heights)} dB"
    )


def _height_db(sound: Signal, times_s: Floats) -> float:
    """Return how far the highest planted hit stands above the highest of the others."""
    at = np.arange(sound.frames) / sound.rate_hz
    near = np.zeros(sound.frames, bool)
    for time in times_s:
        near |= np.abs(at - time - 0.1) < 0.25
    peak = np.abs(sound.samples).max(axis=0)
    return 20 * float(np.log10(peak[near].max() / peak[~near].max()))


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--songs", type=Path, required=True)
    parser.add_argument("--only", nargs="*", default=())
    given = parser.parse_args()
    songs = sorted(path for path in given.songs.iterdir() if (path / "stems").is_dir() and (not given.only or path.name in given.only))
    for song in songs:
        show_polarity(song)
    for number, song in enumerate(songs):
        show_strays(song, number)


if __name__ == "__main__":
    main()
