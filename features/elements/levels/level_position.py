"""How far elements stand from their usual level.

Judged from an element's loudness and from how much of it is audible, together.

Loudness alone says little: between songs it differs by 3 to 7 dB for the same role. What is heard differs as much, but for other
reasons (who else sounds in its bands), so both together are steadier than either. Measured on 61 elements of ten songs: the joint
reading differs by some 4.5 dB between elements nobody has touched, and moves 1.0 dB for each dB of a fader.
"""

from collections.abc import Collection, Sequence
from math import log, log10
from statistics import median

from features.elements.identity import Identity
from features.records.elements import Element, LevelPlan, Role

Positions = tuple[float | None, ...]  # of each element, in dB above the usual

LOUDNESS_WEIGHT = 0.5
HEARD_DB = 2.0  # for each unit of log odds of the share that is heard
USUAL_SHARE = 0.71  # median of those 61 elements
SHARES = (0.02, 0.98)  # beyond, the share says no more about the fader
MOST_POWER = 0.97
OTHERS_WEIGHT = 0.75  # of the middle of the others: when one hides them, all of them sink
FEWEST = 3
VOICES: tuple[Role, ...] = ("vocal",)
VOICE_LU = -3.0  # a lead voice is as loud as all the rest: De Man 2014, Pestana and Reiss 2014, Gerdes and Siedenburg 2023


def against_the_rest_db(lu: float) -> float:
    """Return how much louder an element is than the rest.

    Where it lies ``lu`` against the whole; unrelated sounds add in power.

    Examples
    --------
    >>> round(against_the_rest_db(-3.01), 2), round(against_the_rest_db(-10.0), 2)
    (0.0, -9.54)
    """
    power = min(10 ** (lu / 10), MOST_POWER)
    return 10 * log10(power / (1 - power))


def log_odds(share: float) -> float:
    """Return the log odds of a share.

    ``ln(share / (1 - share))``, the share kept within 2 and 98 %.

    Examples
    --------
    >>> log_odds(0.5), round(log_odds(1.0), 2)
    (0.0, 3.89)
    """
    bounded = min(max(share, SHARES[0]), SHARES[1])
    return log(bounded / (1 - bounded))


def position_db(lu: float, usual_lu: float, share: float) -> float:
    """Return where an element stands, in dB above the usual.

    From its loudness against the mix and the share of it that is heard.

    Examples
    --------
    >>> position_db(-6.0, -6.0, USUAL_SHARE)
    0.0
    """
    louder = against_the_rest_db(lu) - against_the_rest_db(usual_lu)
    return LOUDNESS_WEIGHT * louder + HEARD_DB * (log_odds(share) - log_odds(USUAL_SHARE))


def positions_db(
    identities: Sequence[Identity],
    plans: Sequence[LevelPlan],
    playing_lu: Sequence[float | None],
    shares: Sequence[float | None],
) -> Positions:
    """Return where each element stands.

    None for copies and for what is silent.

    Parameters
    ----------
    identities, plans
        Of the elements; ``plans`` for the usual level of each role.
    playing_lu, shares
        Loudness of each against the mix while it plays, and the share of each that is heard.
    """
    readings = zip(identities, plans, playing_lu, shares, strict=True)
    return tuple(_position(identity.role, identity.copy_of, plan, lu, share) for identity, plan, lu, share in readings)


def positions_of(elements: Sequence[Element]) -> Positions:
    """Return where each measured element stands.

    As `positions_db`, from their records.
    """
    return tuple(
        _position(element.role, element.copy_of, element.level_plan, element.level.while_playing_lu, element.masking.audible_share)
        for element in elements
    )


def _position(role: Role, copy_of: str | None, plan: LevelPlan, lu: float | None, share: float | None) -> float | None:
    usual_lu = VOICE_LU if role in VOICES else plan.usual_lu
    if copy_of is not None or lu is None or share is None or usual_lu is None:
        return None
    return position_db(lu, usual_lu, share)


def off_db(unit: Collection[int], positions: Positions) -> float | None:
    """Return how far some elements lie above the others.

    The middle of them; None where none of the others is known.

    Examples
    --------
    >>> off_db([0], (8.0, 2.0, 0.0, 4.0))
    6.5
    """
    own = [position for number, position in enumerate(positions) if number in unit and position is not None]
    others = [position for number, position in enumerate(positions) if number not in unit and position is not None]
    return median(own) - OTHERS_WEIGHT * median(others) if own and others else None


def offs_db(positions: Positions) -> tuple[float | None, ...]:
    """Return how far each element lies from its usual level.

    Above (positive) or below, in dB.

    Parameters
    ----------
    positions
        From `positions_db`.

    Returns
    -------
    tuple
        None where there is no position, and with fewer than three elements to compare.

    Notes
    -----
    ``position - 0.75 median(positions of the others)``, with
    ``position = 0.5 (R - R_usual) + 2 ln(odds of the share heard / usual odds)``, ``R`` being the loudness over the rest in dB.
    Weights by linear discriminant analysis on six songs, rounded; a method of our own.
    """
    if sum(position is not None for position in positions) < FEWEST:
        return (None,) * len(positions)
    return tuple(off_db((number,), positions) for number in range(len(positions)))
