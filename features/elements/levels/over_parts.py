"""How loud an element is in each part."""

from collections.abc import Sequence

from features.elements.levels.levels import k_energy, playing
from features.elements.meter import ElementTrace
from features.elements.steps import STEP_S
from features.records.sections import Section
from features.sound.decibels import power_to_db

LEAST_SHARE = 0.1  # of a part: an element that plays less of it does not belong to it


def levels_over_parts(trace: ElementTrace, mix: ElementTrace, parts: Sequence[Section]) -> tuple[float | None, ...]:
    """Return an element's loudness against the mix, part by part.

    Mean K-weighted energy of the element over that of the mix in dB, without a gate; None where it plays less than a tenth of the part.

    Parameters
    ----------
    trace, mix
        Of the element at its level in the mix, and of the mix, from the same start.
    parts
        The parts of the song, in its order.
    """
    energy, mixed = k_energy(trace, mix.channels), mix.k_energy
    mask = playing(energy)
    levels: list[float | None] = []
    for part in parts:
        steps = slice(round(part.start_s / STEP_S), min(round(part.end_s / STEP_S), len(mask), len(mixed)))
        around = float(mixed[steps].sum())
        plays = steps.stop > steps.start and mask[steps].mean() >= LEAST_SHARE and around > 0.0
        levels.append(power_to_db(float(energy[steps].sum()) / around) if plays else None)
    return tuple(levels)
