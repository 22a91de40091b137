"""Fitting stems to the mix.

One pass over everything, then offsets only where the sum does not explain the mix.
"""

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from advisor.app.errors import RequestError
from advisor.app.progress import Progress
from advisor.sources.aligned import Aligned, Resampled
from advisor.stems import fit_words as words
from advisor.stems.files import StemFiles
from advisor.stems.moving import common_offset, single_offsets
from features.mixture import fit as alignment
from features.mixture.fit import Fit, Flags
from features.mixture.stem_products import Sketch, StemProducts, StemProductsMeter, one_core
from features.records.elements import Mixture
from features.sound.load import LoadError, Opened
from features.sound.signal import BLOCK_FRAMES, Samples, Source

POOR_DB = -20.0  # a bus effect leaves less than this; from here on an offset of all stems is looked for
MOST_ROUNDS = 4
FALLEN_DB = 3.0
A_LITTLE_DB = 1.0
MUTED_DB = -30.0


class DamagedError(Exception):
    """A stem cannot be read to its end."""

    def __init__(self, number: int, words: str) -> None:
        """Take the number of the source and the sentence."""
        super().__init__(words)
        self.number = number


@dataclass(frozen=True, slots=True)
class Fitted:
    """Every stem in mix time, run beside ``files``.

    ``used`` numbers those that make up the sum.
    """

    files: StemFiles
    sources: tuple[Aligned, ...]
    used: tuple[int, ...]
    sketches: tuple[Sketch, ...]
    silent: tuple[bool, ...]
    copy_of: tuple[int | None, ...]
    mixture: Mixture
    channels: int
    notes: tuple[str, ...]


def fit_stems(files: StemFiles, mix: Source | None, progress: Progress) -> Fitted:
    """Fit the stems to the mix.

    All come to its rate and length, with the gains and places with which they sum to it.
    """
    while True:
        try:
            return _Fitting(files, mix, progress).done()
        except DamagedError as error:
            if len(files.opened) == 1:
                raise RequestError(f"{error} It is the only stem, so there is nothing to go on with.") from None
            files = files.without(error.number, f"{error} It was left out; bounce or copy it again.")


@dataclass(slots=True)
class _State:
    """What is known about stems at their places and gains."""

    sources: list[Aligned]
    trace: StemProducts
    fit: Fit


class _Fitting:
    """The steps of fitting one folder."""

    def __init__(self, files: StemFiles, mix: Source | None, progress: Progress) -> None:
        self._files, self._mix, self._progress = files, mix, progress
        self._notes: list[str] = []
        gain = files.settings.bus_gain_db
        self._bus_gain = None if gain is None else 10 ** (gain / 20)
        self._used: Flags = np.ones(len(files.opened), np.bool_)

    def done(self) -> Fitted:
        files, mix = self._files, self._mix
        sources, channels = in_mix_time(files.opened, mix)
        self._notes += words.rates(files, sources[0].rate_hz, with_mix=mix is not None)
        trace = self._gather(sources)
        count = len(sources)
        silent = alignment.silent_stems(trace, count)
        if silent.all():
            raise RequestError("No stem in the folder holds any sound; bounce them again, and check that nothing is muted.")
        self._used &= ~silent
        self._notes += words.lengths(files, mix, silent)
        copies = alignment.copies(trace, files.names)
        self._leave_out_doubles(trace, copies)
        state = _State(sources, trace, self._fit(trace))
        if mix is not None:
            state = self._placed(state)
            self._mute(state)
            if not alignment.related(state.trace, self._used):
                raise RequestError(
                    "The stems have next to nothing in common with the mix, at any offset that was looked for; check that both belong to "
                    "the same song and the same version."
                )
        return self._result(state, silent, copies, channels)

    def _result(self, state: _State, silent: Flags, copies: tuple[int | None, ...], channels: int) -> Fitted:
        fit, names = state.fit, self._files.names
        self._notes += words.silences(names, silent)
        self._notes += words.copies(names, copies, state.trace, self._used)
        self._notes += words.own_gains(names, fit)
        accepted = self._used | silent
        placed = tuple(
            source.moved(source.offset_frames, float(gain) if used else fit.common)
            for source, gain, used in zip(state.sources, fit.gains, self._used, strict=True)
        )
        self._notes += words.offsets(names, placed, self._used)
        common = Counter(source.offset_frames for source, used in zip(placed, self._used, strict=True) if used).most_common(1)[0][0]
        mixture = alignment.mixture(fit, -common / placed[0].rate_hz, without_mix=self._mix is None)
        return Fitted(
            self._files, placed, tuple(int(number) for number in np.flatnonzero(accepted)), state.trace.sketches[: len(names)],
            tuple(bool(flag) for flag in silent), copies, mixture, channels, tuple(self._notes),
        )  # fmt: skip

    def _fit(self, trace: StemProducts) -> Fit:
        return alignment.unfitted(len(self._used)) if self._mix is None else alignment.fit(trace, self._used, self._bus_gain)

    def _gather(self, sources: Sequence[Aligned]) -> StemProducts:
        return gather([*sources, *(() if self._mix is None else (self._mix,))], self._progress)

    def _leave_out_doubles(self, trace: StemProducts, copies: Sequence[int | None]) -> None:
        """Leave out the full mix and sub-mixes among the stems.

        With them everything would count twice.
        """
        names = self._files.names
        if self._mix is not None:
            for number in alignment.same_as_last(trace, self._used):
                if np.count_nonzero(self._used) == 1:
                    raise RequestError(
                        f"“{names[number]}” is the only stem with sound, and it is the mix itself; add one file for each element."
                    )
                self._drop(number, words.is_the_mix(names[number]))
            for number, original in enumerate(copies):
                if original is not None and self._used[number] and self._better_without(trace, number):
                    self._drop(number, words.is_a_copy(names[number], names[original]))
        for number, parts in alignment.sums_of_others(trace, self._used).items():
            if self._better_without(trace, number):
                everything = len(parts) == np.count_nonzero(self._used) - 1
                self._drop(number, words.is_a_sum(names[number], [names[part] for part in parts], everything=everything))
        for number in alignment.whole_mix(trace, self._used):
            if self._better_without(trace, number):
                self._drop(number, words.is_nearly_the_mix(names[number]))

    def _better_without(self, trace: StemProducts, number: int) -> bool:
        if self._mix is None:
            return True
        fewer = self._used.copy()
        fewer[number] = False
        with_it, without = (alignment.common_residual_db(trace.total, used) for used in (self._used, fewer))
        return without <= with_it - FALLEN_DB

    def _drop(self, number: int, note: str) -> None:
        self._used[number] = False
        self._notes.append(note)

    def _placed(self, state: _State) -> _State:
        """Look for offsets where the sum leaves too much.

        They are taken when clearly less is left then.
        """
        assert self._mix is not None  # noqa: S101 - only called with a mix
        if state.fit.residual.level_db > POOR_DB:
            frames = common_offset(state.sources, self._mix, state.trace, self._used)
            if frames:
                state = self._tried(state, [frames] * len(state.sources), FALLEN_DB)
        for _ in range(MOST_ROUNDS):  # once the loudest is in its place, softer ones come out
            if state.fit.residual.level_db <= alignment.EXACT_DB:
                break
            moves = single_offsets(state.sources, self._mix, state.trace, self._used)
            before = state
            if moves:
                state = self._tried(state, [moves.get(number, 0) for number in range(len(state.sources))], A_LITTLE_DB)
            if state is before:
                break
        return state

    def _tried(self, state: _State, moves: Sequence[int], needed_db: float) -> _State:
        sources = [source.moved(source.offset_frames + move, 1.0) for source, move in zip(state.sources, moves, strict=True)]
        trace = self._gather(sources)
        moved = _State(sources, trace, self._fit(trace))
        return moved if moved.fit.residual.level_db <= state.fit.residual.level_db - needed_db else state

    def _mute(self, state: _State) -> None:
        """Leave out stems the mix holds next to nothing of."""
        fit = state.fit
        unheard = [number for number in fit.own if alignment.gain_db(fit.gains[number] / fit.common) < MUTED_DB]
        if unheard:
            self._used[unheard] = False
            self._notes.append(words.is_not_heard([self._files.names[number] for number in sorted(unheard)]))
            state.fit = self._fit(state.trace)


def in_mix_time(opened: Sequence[Opened], mix: Source | None) -> tuple[list[Aligned], int]:
    """Return the stems at the mix's rate and length.

    Without a mix at the rate most of them have, as long as the longest.
    """
    rates = Counter(sound.source.rate_hz for sound in opened)
    rate = mix.rate_hz if mix is not None else max(rates, key=lambda rate_hz: (rates[rate_hz], rate_hz))
    even: list[Source] = [sound.source if sound.source.rate_hz == rate else Resampled(sound.source, rate) for sound in opened]
    frames = mix.frames if mix is not None else max(source.frames for source in even)
    channels = mix.channels if mix is not None else max(source.channels for source in even)
    return [Aligned(source, frames, one_channel=channels == 1) for source in even], channels


def gather(sources: Sequence[Source], progress: Progress) -> StemProducts:
    """Read all sources side by side, once."""
    meter = StemProductsMeter(sources[0].rate_hz, [source.channels for source in sources])
    frames = sources[0].frames
    with one_core():
        for start in range(0, frames, BLOCK_FRAMES):
            meter.push([_read(number, source, start) for number, source in enumerate(sources)])
            progress.advance(min(start + BLOCK_FRAMES, frames) / frames)
        return meter.finish()


def _read(number: int, source: Source, start: int) -> Samples:
    try:
        return source.read(start, BLOCK_FRAMES)
    except LoadError as error:
        raise DamagedError(number, str(error)) from None
