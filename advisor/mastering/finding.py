"""Finds a mastering chain on one song.

Each move is tried at the target loudness, and stays only where the outcomes gain more than a listener's step: less damage, or more
loudness where the target is out of reach, less what it does to tone.
"""

from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace
from math import log2

from advisor.mastering.bench import ChainBench, Premaster, Reached
from advisor.mastering.brightness import ToneStep, tone_of, tone_step
from advisor.mastering.chain import Chain, Glue
from advisor.outcomes.benefit import cost_of_moving
from advisor.outcomes.steps import LEAST_BENEFIT, MOST_OF_IT, MOVED_TONE_DB, ROOM_LU
from features.elements.groups.glue import WANTED_DB, NeedleReader
from features.limiting.sweep import MOST_DRIVE_DB
from features.processors.dynamics.limiter import GENTLE

RELEASES_S = (0.010, 0.020, 0.040, 0.080, 0.160)
RATIOS = (2.0, 4.0)
SATURATIONS_DB = (1.0, 2.0, 3.0)
RAISES_DB = (0.5, 1.0, 1.5)
MOST_STEPS_LU = 6
SHORT_LU = 0.1
WANTED_LU = 0.05


@dataclass(frozen=True, slots=True)
class Move:
    """One move that was tried.

    The chain without and with it, both at the same loudness, whether it stays, and what it does to tone.
    """

    kind: str
    before: Reached
    after: Reached
    taken: bool
    tone: ToneStep


@dataclass(frozen=True, slots=True)
class Mastering:
    """What was found for a song.

    The chain at the loudness it reaches, every move tried, the loudest clean level, and what 1 LU more costs.
    """

    reached: Reached
    target_lufs: float
    moves: tuple[Move, ...]
    tone: ToneStep
    limiter_tone: ToneStep | None
    glue_dbfs: dict[float, float]
    clean_lufs: float
    clean: Reached
    louder: Reached | None

    @property
    def reaches(self) -> bool:
        """Whether the target is reached at all, cleanly or not."""
        return self.reached.lufs >= self.target_lufs - SHORT_LU

    @property
    def reaches_cleanly(self) -> bool:
        """Whether it is reached with no reading past its limit."""
        return self.reaches and self.reached.damage.clean


def find_chain(song: Premaster, target_lufs: float, ceiling_dbtp: float) -> Mastering:
    """Try the moves in the order of the chain.

    Each is tried with those kept before it.
    """
    bench = ChainBench(song, ceiling_dbtp)
    finder = _Finder(bench, target_lufs)
    reached = finder.best(Chain(ceiling_dbtp, 0.0, MOST_DRIVE_DB / 3, release_s) for release_s in RELEASES_S)
    thresholds: dict[float, float] = {}
    if reached.chain.limits:
        thresholds = glue_thresholds(bench)
        reached = finder.move("release", finder.reach(replace(reached.chain, release_s=GENTLE.release_s)), [reached])
        for kind, chains in CHAINS.items():
            reached = finder.move(kind, reached, [finder.reach(chain) for chain in chains(bench, reached.chain, thresholds)])
    return finder.outcome(reached, thresholds)


def refitted(bench: ChainBench, chain: Chain, target_lufs: float) -> Reached:
    """Return the same moves set anew for another song state.

    No others are tried.
    """
    ratio = None if chain.glue is None else chain.glue.ratio
    glue = None if ratio is None else Glue(glue_thresholds(bench)[ratio], ratio, WANTED_DB)
    saturation = None if chain.saturation is None else bench.saturation(glue, chain.saturation.drive_db)
    return bench.reach(replace(chain, glue=glue, saturation=saturation), target_lufs)


def glue_thresholds(bench: ChainBench) -> dict[float, float]:
    """Return the glue threshold for each ratio.

    There a compressor's needle swings to about 2 dB on this song.
    """
    reader = NeedleReader(bench.stretch())
    thresholds = {ratio: reader.threshold(ratio, WANTED_DB) for ratio in RATIOS}
    return {ratio: threshold for ratio, threshold in thresholds.items() if threshold is not None}


def _glues(_bench: ChainBench, chain: Chain, thresholds: dict[float, float]) -> Iterable[Chain]:
    return [replace(chain, glue=Glue(threshold, ratio, WANTED_DB)) for ratio, threshold in thresholds.items()]


def _saturations(bench: ChainBench, chain: Chain, _thresholds: dict[float, float]) -> Iterable[Chain]:
    return [replace(chain, saturation=bench.saturation(chain.glue, drive)) for drive in SATURATIONS_DB]


def _shapers(_bench: ChainBench, chain: Chain, _thresholds: dict[float, float]) -> Iterable[Chain]:
    return [replace(chain, raise_db=raise_db) for raise_db in RAISES_DB]


CHAINS: dict[str, Callable[[ChainBench, Chain, dict[float, float]], Iterable[Chain]]] = {
    "glue": _glues,
    "saturation": _saturations,
    "waveshaper": _shapers,
}


class _Finder:
    """Tries chains at one loudness and keeps what was tried."""

    def __init__(self, bench: ChainBench, target_lufs: float) -> None:
        self._bench, self._target = bench, target_lufs
        self._moves: list[Move] = []
        self._tone = tone_of(bench.mix, bench.rate_hz)

    def reach(self, chain: Chain) -> Reached:
        return self._bench.reach(chain, self._target)

    def best(self, chains: Iterable[Chain]) -> Reached:
        """Return the chain of least damage; of those that sound alike the one nearest to the gentle release.

        One that needs no limiting ends the search.
        """
        candidates: list[Reached] = []
        for chain in chains:
            started = replace(chain, drive_db=candidates[-1].chain.drive_db) if candidates else chain
            candidates.append(self.reach(started))
            if not candidates[-1].chain.limits:
                break
        return min(
            candidates, key=lambda candidate: (round(candidate.damage.steps, 1), abs(log2(candidate.chain.release_s / GENTLE.release_s)))
        )

    def move(self, kind: str, before: Reached, tried: list[Reached]) -> Reached:
        """Keep the smallest of what was tried that gains most of what can be gained, where that is a step.

        Note it either way.
        """
        if not tried:
            return before
        versions = [(candidate, self._tone_step(before, candidate)) for candidate in tried]
        gains = [gained(before, candidate, tone.moved_db, self._target) for candidate, tone in versions]
        enough = max(gains) - (1.0 - MOST_OF_IT) * abs(max(gains))
        best, tone, gain = next((*version, gain) for version, gain in zip(versions, gains, strict=True) if gain >= enough)
        taken = gain > LEAST_BENEFIT
        self._moves.append(Move(kind, before, best, taken, tone))
        return best if taken else before

    def _tone_step(self, before: Reached, after: Reached) -> ToneStep:
        return tone_step(*(tone_of(version.sound, self._bench.rate_hz) for version in (before, after)))

    def outcome(self, reached: Reached, thresholds: dict[float, float]) -> Mastering:
        clean = reached if reached.damage.clean else self._clean(reached)
        louder = None
        if reached.chain.limits and reached.lufs >= self._target - SHORT_LU:
            louder = self._bench.reach(reached.chain, self._target + 1.0)
        tone, alone = (
            None if sound is None else tone_step(self._tone, tone_of(sound, self._bench.rate_hz))
            for sound in (reached.sound, self._moves[0].before.sound if self._moves else None)
        )
        assert tone is not None  # noqa: S101 - there is a sound
        return Mastering(reached, self._target, tuple(self._moves), tone, alone, thresholds, self._loudest(clean, louder), clean, louder)

    def _clean(self, reached: Reached) -> Reached:
        """Return the chain at its highest clean loudness.

        Found by halving; nothing passes its limit there.
        """
        low = self._bench.reach(reached.chain, reached.lufs - MOST_STEPS_LU)
        high = reached
        while high.lufs - low.lufs > 2 * WANTED_LU and low.damage.clean:
            middle = self._bench.reach(low.chain, 0.5 * (low.lufs + high.lufs))
            low, high = (middle, high) if middle.damage.clean else (low, middle)
        return low

    @staticmethod
    def _loudest(clean: Reached, louder: Reached | None) -> float:
        """Return the loudest clean level that was found.

        It was looked for up to 1 LU past the target.
        """
        return louder.lufs if louder is not None and louder.damage.clean else clean.lufs


def gained(before: Reached, after: Reached, moved_db: float, target_lufs: float) -> float:
    """Return what a move gains, in the outcomes' steps.

    Damage, loudness up to the target, less tone moved.
    """
    louder_lu = min(after.lufs, target_lufs) - min(before.lufs, target_lufs)
    return before.damage.steps - after.damage.steps + louder_lu / ROOM_LU.size - cost_of_moving(moved_db / MOVED_TONE_DB.size)
