"""As much as the evidence carries.

What a song's readings say is likely a fault caps every tone move and every element's fader.
"""

from dataclasses import dataclass, replace

import numpy as np

from advisor.judging.judge import Card
from advisor.measuring.measured import Measured
from advisor.remedies.discovery import kind_of
from advisor.remedies.parts import PARTS_OF_A_MIX
from features.outcomes.shrinkage import no_more_than
from features.outcomes.tone_faults import ToneFaults, tone_deviation, tone_faults
from features.records.elements import Element, Elements, LevelMove
from features.records.spectrum import Spectrum
from features.tone.target import TargetModel
from rules.remedy import Remedy

LEAST_DB = 0.5  # as little as a fader is moved; what carries less is tried with it, so that the report can say what it does
MOST_ON_THE_MIX_DB = 3.0  # of tone in a whole plan; more is a question: which element is it?
UNTIL_HEARD_DB = 3.0  # what is hardly heard may be raised, and what hides it lowered, by so much whatever such elements usually have
HIDES_SHARE = 0.2  # of an element's loudness: what takes so much of it hides it
ENOUGH_HEARD = 0.47  # nine main elements in ten are heard by more; masking-survey
MEASURED_APART = frozenset({"narrow", "unsteady"})  # causes that a long-term curve in third octaves does not show


@dataclass(frozen=True, slots=True)
class Evidence:
    """What a song's curve and levels say of faults.

    It says which main elements are hardly heard, and which elements hide them, too.
    ``faders`` are those that likely lie off; None without stems.
    """

    tone: ToneFaults | None = None
    faders: tuple[LevelMove, ...] | None = None
    groups: tuple[tuple[str, tuple[str, ...]], ...] = ()
    hardly_heard: frozenset[str] = frozenset()
    hiding: frozenset[str] = frozenset()

    def carried(self, card: Card) -> Card:
        """Return the card with its moves as evidence carries them.

        No move is larger than that.
        """
        finding = card.finding
        if finding.remedy is None:
            return card
        first, *others = (self._carried(remedy, card) for remedy in (finding.remedy, *finding.others))
        return replace(card, finding=replace(finding, remedy=first, others=tuple(others)))

    def _carried(self, remedy: Remedy, card: Card) -> Remedy:
        if remedy.gain_db is None or remedy.gain_db == 0.0:
            return remedy
        kind = kind_of(remedy)
        if kind.tone is not None and remedy.part in PARTS_OF_A_MIX:
            expected = None if card.finding.cause in MEASURED_APART else self._tone_db(remedy)
            return _capped(remedy, MOST_ON_THE_MIX_DB if expected is None else min(expected, MOST_ON_THE_MIX_DB))
        if kind.is_fader and remedy.part not in PARTS_OF_A_MIX and self.faders is not None:
            return _capped(remedy, self._fader_db(remedy, self.faders))
        return remedy

    def _tone_db(self, remedy: Remedy) -> float | None:
        """Return how much of a tone move the whole curve carries; None where the curve is not known there."""
        kind = kind_of(remedy)
        if self.tone is None or kind.tone is None:
            return None
        low_hz, high_hz = kind.tone.edges_hz(remedy)
        inside = (self.tone.band_hz >= low_hz) & (self.tone.band_hz <= high_hz)
        if not np.any(inside):
            return None
        return abs(no_more_than(-float(np.mean(self.tone.expected_db[inside])), remedy.gain_db or 0.0))

    def _fader_db(self, remedy: Remedy, faders: tuple[LevelMove, ...]) -> float:
        """Return how much of a fader's move the levels of all elements carry."""
        names = dict(self.groups).get(remedy.part, (remedy.part,))
        proposed = remedy.gain_db or 0.0
        faults = [move.expected_db for move in faders if set(names) <= set(move.names)]
        carried = max((abs(no_more_than(round(-2.0 * fault) / 2.0, proposed)) for fault in faults), default=0.0)
        heard_again = (self.hardly_heard if proposed > 0.0 else self.hiding).intersection(names)
        return max(carried, UNTIL_HEARD_DB) if heard_again else carried


def evidence_of(measured: Measured, target: TargetModel) -> Evidence:
    """Return what a whole song says of faults.

    Of tone and of faders, from its records.
    """
    spectrum, elements = measured.records.get(Spectrum), measured.records.get(Elements)
    deviation = tone_deviation(spectrum, target) if isinstance(spectrum, Spectrum) else None
    tone = None if deviation is None else tone_faults(deviation)
    if not isinstance(elements, Elements):
        return Evidence(tone)
    hidden = [element for element in elements.elements if element.name in elements.main and _hardly_heard(element)]
    return Evidence(
        tone,
        elements.moves,
        tuple((group.name, group.members) for group in elements.groups),
        frozenset(element.name for element in hidden),
        frozenset(cover.by for element in hidden for cover in element.masking.covered_by if cover.share >= HIDES_SHARE),
    )


def _hardly_heard(element: Element) -> bool:
    share = element.masking.audible_share
    return share is not None and share < ENOUGH_HEARD


def _capped(remedy: Remedy, most_db: float) -> Remedy:
    """Return the remedy with no more gain than ``most_db``, in its own direction, and no less than a fader's smallest move."""
    gain_db = remedy.gain_db or 0.0
    size = min(abs(gain_db), max(most_db, LEAST_DB))
    return replace(remedy, gain_db=round(size if gain_db > 0.0 else -size, 1))
