"""The song that remedies are tried on.

A stereo mix, or with stems its elements, which are summed again (`advisor.stems.song`).
"""

from collections.abc import Iterator, Sequence
from typing import Protocol, TypeVar

from advisor.app.yardstick import Yardstick
from advisor.judging.judge import Card
from advisor.measuring.measured import Measured
from advisor.planning.listening import Listener
from advisor.planning.processed import Processed, states
from advisor.planning.trial_readings import TrialReadings
from advisor.remedies.apply import apply
from advisor.sources.excerpt import take
from features.records.base import Span
from features.sound.signal import Samples, Signal, Source
from rules.remedy import Remedy

SoundT = TypeVar("SoundT")


class Song(Protocol[SoundT]):
    """What trials, plan and clips need of a song.

    A sound is a stretch of it with remedies in place.
    """

    @property
    def source(self) -> Source:
        """The mix."""

    def placed(self, card: Card) -> Card:
        """Return the card with its move where it works best.

        As far as this kind of song can make it.
        """

    def excerpt(self, spans: Sequence[Span]) -> SoundT:
        """Return some stretches, joined by short crossfades."""

    def apply(self, remedy: Remedy, sound: SoundT) -> SoundT:
        """Return the sound with one remedy more."""

    def listen(self, sound: SoundT) -> TrialReadings:
        """Measure and judge a sound."""

    def after(self, remedies: Sequence[Remedy]) -> Source:
        """Return the whole song after remedies."""

    def complete(self, again: Measured, remedies: Sequence[Remedy]) -> Measured:
        """Add what only this kind of song can measure.

        It goes to the records of the whole song after remedies.
        """

    def judged(self, measured: Measured) -> TrialReadings:
        """Judge what was measured on the whole song.

        By the rules that trials use.
        """

    def states(self, remedies: Sequence[Remedy], start: int, count: int) -> Iterator[Samples]:
        """Yield a stretch as it is, then after each remedy.

        Frames ``start`` to ``start + count``.
        """


class MixedSong:
    """A song of which only the mix is there."""

    def __init__(self, source: Source, measured: Measured, yardstick: Yardstick) -> None:
        """Take the mix and what was measured on it."""
        self.source = source
        self._listener = Listener(yardstick, measured)

    def listen(self, sound: Signal) -> TrialReadings:
        """Measure and judge a sound."""
        return self._listener(sound)

    def judged(self, measured: Measured) -> TrialReadings:
        """Judge what was measured on the whole song.

        By the rules that trials use.
        """
        return self._listener.judged_song(measured)

    def placed(self, card: Card) -> Card:
        """Return the card as it is.

        There is only the mix.
        """
        return card

    def excerpt(self, spans: Sequence[Span]) -> Signal:
        """Return some stretches, joined by short crossfades."""
        return take(self.source, spans).signal

    def apply(self, remedy: Remedy, sound: Signal) -> Signal:
        """Return the sound with one remedy more."""
        return apply(remedy, sound)

    def after(self, remedies: Sequence[Remedy]) -> Source:
        """Return the whole song after remedies."""
        return Processed(self.source, remedies, apply)

    def complete(self, again: Measured, _remedies: Sequence[Remedy]) -> Measured:
        """Return the records as they are."""
        return again

    def states(self, remedies: Sequence[Remedy], start: int, count: int) -> Iterator[Samples]:
        """Yield a stretch as it is, then after each remedy.

        Frames ``start`` to ``start + count``.
        """
        return states(self.source, remedies, apply, start, count)
