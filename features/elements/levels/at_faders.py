"""Where elements stand with their faders moved.

Worked out from their traces, nothing is read again.
"""

from collections.abc import Mapping, Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from features.elements.identity import Identity
from features.elements.levels.level_moves import Gains, Stand
from features.elements.levels.level_position import positions_db
from features.elements.levels.levels import k_energy, playing
from features.elements.masking.masking import BLOCK_FRAMES, loud_power, mask
from features.elements.meter import ElementTrace
from features.records.elements import ElementLevel, ElementMasking, LevelPlan
from features.sound.decibels import power_to_db

Floats = NDArray[np.float64]

MOST_BLOCKS = 40  # a minute of blocks, spread over the song, shows what is heard of each well enough
SILENCE = 1e-14  # mean square: what is left of the mix where all of it was one element


def sounding_as_one(identities: Sequence[Identity], traces: Mapping[str, ElementTrace]) -> tuple[dict[str, str], dict[str, float]]:
    """Return which elements sound as one, and their gain.

    Whom each sounds as one with (itself, unless it is a copy), and the gain of copies and original together, in dB.
    """
    names = {identity.name for identity in identities}
    owner = {
        identity.name: identity.name if identity.copy_of is None or identity.copy_of not in names else identity.copy_of
        for identity in identities
    }
    amplitude = dict.fromkeys(owner.values(), 0.0)
    for name, original in owner.items():
        whole = float(traces[original].energy.mean(axis=0).sum())
        amplitude[original] += (float(traces[name].energy.mean(axis=0).sum()) / whole) ** 0.5 if whole > 0 else 0.0
    return owner, {name: 20.0 * float(np.log10(factor)) if factor > 0 else 0.0 for name, factor in amplitude.items()}


def thinned(trace: ElementTrace) -> ElementTrace:
    """Return a trace with some of its blocks of frames.

    Evenly spread, no more than `MOST_BLOCKS`.
    """
    step = -(-len(trace.left) // (BLOCK_FRAMES * MOST_BLOCKS))
    if step <= 1:
        return trace
    chosen = np.arange(len(trace.left)) // BLOCK_FRAMES % step == 0
    left = trace.left[chosen]
    return replace(trace, left=left, right=left if trace.left is trace.right else trace.right[chosen])


class AtFaders:
    """Answers where the elements stand with their faders moved."""

    def __init__(
        self,
        identities: Sequence[Identity],
        traces: Mapping[str, ElementTrace],
        mix: ElementTrace,
        rest: ElementTrace | None,
        records: tuple[Sequence[ElementLevel], Sequence[ElementMasking], Sequence[LevelPlan]],
    ) -> None:
        """Take the elements, their traces, and their records.

        Further the traces of the mix and of what it holds beyond them.
        """
        self._identities, self._traces, self._mix, self._rest = identities, traces, mix, rest
        levels, maskings, self._plans = records
        self._lu = tuple(element_level.while_playing_lu for element_level in levels)
        self._shares = tuple(element_masking.audible_share for element_masking in maskings)
        self._owner, self._own_gain_db = sounding_as_one(identities, traces)
        self._thin: tuple[list[ElementTrace], ElementTrace | None, list[float]] | None = None

    def __call__(self, gains_db: Gains) -> Stand:
        """Return where they stand with each element's fader moved by so many dB; copies move with what they are copies of."""
        moves = dict(zip((identity.name for identity in self._identities), gains_db, strict=True))
        lu, shares = self._lu, self._shares
        if any(gains_db):
            lu, shares = self._playing_lu(moves), self._audible_shares(moves)
        return Stand(positions_db(self._identities, self._plans, lu, shares), lu, shares)

    def _playing_lu(self, moves: Mapping[str, float]) -> tuple[float | None, ...]:
        """Return the loudness of each against the mix while it plays; copies and original add up in amplitude, all others in power."""
        energies = {name: k_energy(trace, self._mix.channels) for name, trace in self._traces.items()}
        mixed = self._mix.k_energy.copy()
        for name, together_db in self._own_gain_db.items():
            change = 10 ** ((together_db + moves[name]) / 10) - 10 ** (together_db / 10)
            both = min(len(energies[name]), len(mixed))
            mixed[:both] += change * energies[name][:both]
        mixed = np.maximum(mixed, SILENCE)
        own = {identity.name: 10 ** (moves[self._owner[identity.name]] / 10) for identity in self._identities}
        return tuple(_against(energies[name] * power, mixed) for name, power in own.items())

    def _audible_shares(self, moves: Mapping[str, float]) -> tuple[float | None, ...]:
        if self._thin is None:
            sounds = [self._traces[name] for name in self._own_gain_db]
            self._thin = [thinned(trace) for trace in sounds], self._rest and thinned(self._rest), [loud_power(trace) for trace in sounds]
        sounds, rest, loud = self._thin
        gains_db = [gain_db + moves[name] for name, gain_db in self._own_gain_db.items()]
        shares = mask(
            sounds, rest, gains_db, [power * 10 ** (gain_db / 10) for power, gain_db in zip(loud, gains_db, strict=True)]
        ).shares()
        share_of = dict(zip(self._own_gain_db, shares, strict=True))
        return tuple(share_of[self._owner[identity.name]] for identity in self._identities)


def _against(energy: Floats, mixed: Floats) -> float | None:
    """Return the loudness of an element against the mix while it plays, as in `features.elements.levels.levels.measure_level`."""
    together = min(len(energy), len(mixed))
    rows = playing(energy)[:together]
    around = mixed[:together][rows].sum()
    return power_to_db(float(energy[:together][rows].sum() / around)) if around > 0 else None
