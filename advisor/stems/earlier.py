"""Level changes since an earlier bounce, or since earlier stems."""

from collections.abc import Callable, Mapping, Sequence
from contextlib import ExitStack
from dataclasses import dataclass
from pathlib import Path
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from advisor.app.errors import RequestError
from advisor.app.progress import Progress
from advisor.sources.aligned import Aligned, Resampled
from advisor.stems.files import find_files, open_files
from advisor.stems.fit_words import listed
from advisor.stems.fitting import DamagedError, gather
from advisor.stems.moving import common_offset
from advisor.stems.roles import GROUPS
from features.mixture.fit import left_over, own_gains
from features.mixture.stem_products import StemProducts
from features.sound.load import LoadError, open_source
from features.sound.signal import Source

Floats = NDArray[np.float64]

POOR_DB = -20.0  # from here on an offset is looked for
TRUSTED_DB = -6.0  # a bounce that is explained less well says nothing about single levels
SURE_DB = 0.5  # standard error up to which a change is given
SAME_SOUND = 0.5  # of the energy must be the earlier stem's, else it is another sound
TOGETHER_DB = 0.3  # elements that moved alike within this have not moved against each other
FOLDS = 10
HIGHEST_HZ, FAITHFUL_DB = 14500.0, -15.0
LEAST_SHARE = 0.05  # of an element's energy must lie in such bands
AT_ONCE = 8
APART_WORD = " stem"  # as in `advisor.stems.folder`


class Named(Protocol):
    """An element with its sound in mix time."""

    @property
    def name(self) -> str:
        """The element's name."""

    @property
    def source(self) -> Source:
        """Its sound."""


@dataclass(frozen=True, slots=True)
class Earlier:
    """Level changes in dB against the earlier bounce.

    At matched mix level; ``words`` say how far they can be trusted.
    """

    changes_db: Mapping[str, float]
    words: str


def compare_earlier(path: Path | None, stems: Sequence[Named], mix: Source | None, progress: Progress) -> Earlier | None:
    """Compare with what stems.toml names as the earlier bounce.

    A folder of stems or one file; None without.
    """
    if path is None:
        return None
    progress.step(f"Comparing with {path.name}")
    try:
        return _with_stems(path, stems, progress) if path.is_dir() else _with_bounce(path, stems, mix, progress)
    except (LoadError, RequestError, DamagedError) as error:
        return Earlier({}, f"Nothing is said about changes since the earlier bounce: {error}")


def _with_stems(path: Path, stems: Sequence[Named], progress: Progress) -> Earlier:
    with ExitStack() as stack:
        files = open_files(find_files(path, None, with_settings=False), stack, hashed=False)
        by_name = {name.lower(): opened.source for name, opened in zip(files.names, files.opened, strict=True)}
        pairs = [(stem.name, stem.source, by_name[_file_name(stem)]) for stem in stems if _file_name(stem) in by_name]
        if not pairs:
            return Earlier({}, f"None of the stems in “{path.name}” is called like one of the present ones, so no levels are compared.")
        changes: dict[str, float] = {}
        for first in range(0, len(pairs), AT_ONCE):
            changes |= _changes_of_pairs(pairs[first : first + AT_ONCE], progress)
    others = [name for name, _, _ in pairs if name not in changes]
    new = [stem.name for stem in stems if _file_name(stem) not in by_name]
    words = f"Levels are compared with the stems in “{path.name}”, {len(changes)} of {len(stems)} by name."
    if others:
        words += f" {listed(others)} {'sounds' if len(others) == 1 else 'sound'} different there, so no change of level is given."
    if new:
        words += f" {listed(new)} {'is' if len(new) == 1 else 'are'} not among them."
    return Earlier(against_the_rest(changes), words)


def _file_name(stem: Named) -> str:
    """Return the name its file has.

    An element called like a group is told from it by a word more.
    """
    name = stem.name.lower()
    return name.removesuffix(APART_WORD) if name.removesuffix(APART_WORD) in GROUPS else name


def _changes_of_pairs(pairs: Sequence[tuple[str, Source, Source]], progress: Progress) -> dict[str, float]:
    """Return by how many dB each stem has risen.

    Against its earlier self, by least squares on the waveforms.
    """
    now = [source for _, source, _ in pairs]
    before = [_like(source, earlier) for _, source, earlier in pairs]
    total = gather([*now, *before], progress).total
    count = len(pairs)
    changes = {}
    for number, (name, _, _) in enumerate(pairs):
        mine, its, both = total[number, number], total[count + number, count + number], total[number, count + number]
        if mine > 0.0 and its > 0.0 and both > 0.0 and both**2 >= SAME_SOUND * mine * its:
            changes[name] = 20 * float(np.log10(both / its))
    return changes


def _like(source: Source, earlier: Source) -> Aligned:
    even = earlier if earlier.rate_hz == source.rate_hz else Resampled(earlier, source.rate_hz)
    return Aligned(even, source.frames, one_channel=source.channels == 1)


def _with_bounce(path: Path, stems: Sequence[Named], mix: Source | None, progress: Progress) -> Earlier:
    with open_source(path, memory_bytes=0, hashed=False) as opened:
        sources = [stem.source for stem in stems]
        bounce = _like(mix if mix is not None else max(sources, key=lambda source: source.channels), opened.source)
        known = () if mix is None else (mix,)
        trace = gather([*sources, *known, bounce], progress)
        used = np.array([float(trace.total[number, number]) > 0.0 for number in range(len(stems))])
        if _explained_db(_against(trace.total, len(stems), len(trace.total) - 1), used) > POOR_DB:
            trace = _moved(stems, known, bounce, trace, used, progress)
    count = len(stems)
    level = _explained_db(_against(trace.total, count, len(trace.total) - 1), used)
    if level > TRUSTED_DB:
        return Earlier(
            {}, f"The present stems explain the earlier bounce “{path.name}” only to {level:.0f} dB, too little to say how levels changed."
        )
    with_mix = mix is not None
    faithful = _faithful(trace, used)
    changes = _level_changes(faithful, used, with_mix=with_mix)
    spread = _standard_error(trace.by_time, lambda part: _level_changes(part, used, with_mix=with_mix))
    trusted = used & (spread < SURE_DB) & (np.diag(faithful)[:count] > LEAST_SHARE * np.diag(trace.total)[:count])
    sure = {stem.name: float(changes[number]) for number, stem in enumerate(stems) if trusted[number]}
    words = f"Levels are compared with the earlier bounce “{path.name}”, which the present stems explain to {level:.0f} dB."
    unsure = [stem.name for stem in stems if stem.name not in sure]
    if unsure:
        words += f" For {listed(unsure)} that is too little to tell a change of level."
    return Earlier(against_the_rest(sure), words)


def _moved(
    stems: Sequence[Named], known: Sequence[Source], bounce: Aligned, trace: StemProducts, used: NDArray[np.bool_], progress: Progress
) -> StemProducts:
    """Try the bounce where it fits the stems best.

    Return what is better.
    """
    sources = [stem.source for stem in stems]
    frames = common_offset(sources, bounce, trace, used)
    if not frames:
        return trace
    other = gather([*sources, *known, bounce.moved(bounce.offset_frames - frames, 1.0)], progress)
    last, count = len(trace.total) - 1, len(stems)
    levels = [_explained_db(_against(products.total, count, last), used) for products in (other, trace)]
    return other if levels[0] < levels[1] else trace


def _against(total: Floats, stems: int, target: int) -> Floats:
    """Return the inner products of stems and one sound.

    That sound comes last.
    """
    index = [*range(stems), target]
    return total[np.ix_(index, index)]


def _explained_db(total: Floats, used: NDArray[np.bool_]) -> float:
    left = float(left_over(total, own_gains(total, used)))
    return 10 * float(np.log10(max(left, 1e-30) / max(float(total[-1, -1]), 1e-30)))


def _level_changes(total: Floats, used: NDArray[np.bool_], *, with_mix: bool) -> Floats:
    """Return each stem's level now over then, in dB.

    What the bus does to both falls out.
    """
    count = len(used)
    before = own_gains(_against(total, count, len(total) - 1), used)
    now = own_gains(_against(total, count, count), used) if with_mix else np.ones(count)
    changes: Floats = 20 * np.log10(np.maximum(now, 1e-6) / np.maximum(before, 1e-6))
    return changes


def _faithful(trace: StemProducts, used: NDArray[np.bool_]) -> Floats:
    """Return the inner products where stems explain the bounce.

    The bands in which they do.

    Lossy formats and other rates keep what lies high up in level but not in waveform; there every gain would come out too low.
    """
    last, count = len(trace.total) - 1, len(used)
    faithful = [
        band
        for band, high_hz in zip(trace.by_band, trace.edges_hz[1:], strict=True)
        if high_hz <= HIGHEST_HZ and _explained_db(_against(band, count, last), used) < FAITHFUL_DB
    ]
    return np.sum(faithful, axis=0) if faithful else trace.total


def _standard_error(by_time: Floats, measure: Callable[[Floats], Floats]) -> Floats:
    """Return the standard error of the measure.

    From leaving out a tenth of the song at a time (jackknife, Tukey 1958).
    """
    folds = min(FOLDS, len(by_time))
    whole = by_time.sum(axis=0)
    parts = np.array_split(np.arange(len(by_time)), folds)
    left_out = np.array([measure(whole - by_time[part].sum(axis=0)) for part in parts]) if folds > 1 else measure(whole)[None]
    spread: Floats = np.sqrt((folds - 1) / folds * np.sum((left_out - left_out.mean(axis=0)) ** 2, axis=0))
    return spread


def against_the_rest(changes: Mapping[str, float]) -> dict[str, float]:
    """Return changes minus what most elements share.

    That is the level of the whole mix.

    The largest set of elements that moved alike is taken as not moved; of sets as large, the one that moved least.

    Examples
    --------
    >>> against_the_rest({"a": 1.0, "b": 1.0, "c": 3.0})
    {'a': 0.0, 'b': 0.0, 'c': 2.0}
    """
    if not changes:
        return {}
    values = np.array(list(changes.values()))
    alike = np.abs(values[:, None] - values[None, :]) <= TOGETHER_DB
    best = min(range(len(values)), key=lambda number: (-int(alike[number].sum()), abs(values[number])))
    shared = float(values[alike[best]].mean())
    return {name: value - shared for name, value in changes.items()}
