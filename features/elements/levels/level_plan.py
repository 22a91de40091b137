"""Where faders stand by the methods for setting levels.

Over noise, against the others, against what is usual.

The pink-noise method is common practice; no controlled evaluation of it was found. Noise plays at the mix's loudness, and
each element is brought up until it is just heard over it. What it cannot tell: the noise is steady, so nothing masks before or
after it; the elements do not mask each other; and a balance made over pink noise comes out about 8 dB brighter, from 100 Hz
to 4 kHz, than released music (pink falls 3.0 dB per octave, songs some 4.5). Those who use it leave hats and cymbals out, as is
done here. The same over noise with the target's spectrum has not that tilt.
"""

import tomllib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from importlib import resources

import numpy as np
from numpy.typing import NDArray

from features.elements.identity import Identity
from features.elements.levels.levels import integrated_lufs, k_energy, whole_steps
from features.elements.masking.masking import SOUNDS_DB, loudness_weights
from features.elements.meter import ElementTrace
from features.hearing.masking import OFFSET_DB, ear
from features.loudness.gating import energy_at
from features.records.balance import Target
from features.records.elements import ElementLevel, LevelPlan, Role
from features.sound.bands import erb_bands, overlap
from features.sound.k_weighting import k_weighting

Floats = NDArray[np.float64]

NOISE_HZ = (20.0, 20000.0)
CELLS_PER_OCTAVE = 48
LOUD_MOMENTS = 0.75  # the quarter of its frames, while it sounds, in which an element is loudest
JUDGED_HZ = (40.0, 16000.0)
MAIN_SHARE = 0.25  # of the song: who plays less is not a main element
MAIN_LU = -30.0  # nor who lies further below the mix
LEFT_OUT: tuple[Role, ...] = ("hats", "effects")
LEAD_LU = (-4.5, -1.5)  # ordinary for a lead voice: De Man 2014, Pestana and Reiss 2014, Gerdes and Siedenburg 2023 agree within 0.5 LU
LEAD_ROLES: tuple[Role, ...] = ("vocal", "lead")
USUAL = "usual_levels.toml"
ROWS: Mapping[Role, Role] = {"percussion": "hats"}  # roles that were measured in another's row


@dataclass(frozen=True, slots=True)
class Plans:
    """The level plan of every element.

    And what it says of them together; fields as in `Elements`.
    """

    plans: tuple[LevelPlan, ...]
    closeness_db: float | None
    main: tuple[str, ...]
    lead: str | None
    lead_lu: float | None


@cache
def usual_levels() -> Mapping[str, tuple[float, float]]:
    """Return the usual loudness of each role.

    Below the mix, and its spread between songs, in LU.

    Examples
    --------
    >>> usual_levels()["kick"]
    (-4.1, 3.2)
    """
    rows = tomllib.loads(resources.files("features.elements.levels").joinpath(USUAL).read_text(encoding="utf-8"))
    return {role: (float(row["median_lu"]), float(row["spread_lu"])) for role, row in rows.items()}


def usual_level(role: Role) -> tuple[float, float]:
    """Return the usual loudness and spread of one role.

    A role without a row takes those of ``other``.

    Examples
    --------
    >>> usual_level("pad") == usual_level("other")
    True
    """
    table = usual_levels()
    return table.get(ROWS.get(role, role), table["other"])


def k_response(frequency_hz: Floats, rate_hz: int) -> Floats:
    """Return the power gain of the K-weighting.

    Examples
    --------
    >>> (10 * np.log10(k_response(np.array([997.0]), 48000))).round(2).tolist()
    [0.69]
    """
    back = np.exp(-2j * np.pi * frequency_hz / rate_hz)
    gain = np.ones(len(frequency_hz))
    for b0, b1, b2, a1, a2 in k_weighting(float(rate_hz)):
        gain *= np.abs((b0 + b1 * back + b2 * back**2) / (1 + a1 * back + a2 * back**2)) ** 2
    return gain


def noise_bands(lufs: float, rate_hz: int, channels: int, target: Target | None = None) -> Floats:
    """Return the power of noise in the ear's bands.

    Mean of the channels, shape ``(bands,)``.

    Parameters
    ----------
    lufs
        Its loudness: that of steady noise, unrelated in both channels.
    rate_hz, channels
        Of the mix.
    target
        The spectrum it has; pink, 20 Hz-20 kHz, when not given. Outside its bands the target's ends are held.

    Notes
    -----
    Power per Hz ``S(f)`` scaled so that ``-0.691 + 10 log10(channels * integral of S K)`` is ``lufs``, ``K`` being the K-weighting.
    """
    top = min(NOISE_HZ[1], rate_hz / 2)
    count = round(np.log2(top / NOISE_HZ[0]) * CELLS_PER_OCTAVE)
    edges = np.geomspace(NOISE_HZ[0], top, count + 1)
    middle = np.sqrt(edges[1:] * edges[:-1])
    if target is None:
        density = 1 / middle
    else:
        density = 10 ** (np.interp(np.log(middle), np.log(target.third_octave_hz), target.third_octave_db) / 10)
    power = density * np.diff(edges)
    power *= energy_at(lufs) / channels / np.sum(power * k_response(middle, rate_hz))
    bands: Floats = power @ overlap(edges[:-1], edges[1:], erb_bands(rate_hz))
    return bands


def over_noise_db(trace: ElementTrace, noise: Floats) -> float | None:
    """Return how far an element stands above steady noise.

    Above being just audible, in dB; None for silence.

    Parameters
    ----------
    trace
        Of the element.
    noise
        From `noise_bands`.

    Notes
    -----
    Just audible: in its loud moments, the strongest of its bands (40 Hz-16 kHz) reaches the masked threshold, which lies 4 dB below
    the noise's excitation there (`features.hearing.masking`). Excitation scales with the element, so the gain that takes it there is
    the median over those moments of ``max over bands of (E - N) + 4 dB``, with the sign turned; nothing has to be searched for.
    """
    bands = erb_bands(trace.rate_hz)
    power = trace.both()
    if not power.any():
        return None
    weighted = power @ loudness_weights(bands.centre_hz).astype(np.float32)
    some = weighted > 10 ** (SOUNDS_DB / 10) * weighted.max()
    loud = power[weighted >= np.quantile(weighted[some], LOUD_MOMENTS)]
    spread = ear(trace.rate_hz, bands).spread
    inside = (bands.centre_hz >= JUDGED_HZ[0]) & (bands.centre_hz <= JUDGED_HZ[1])
    ratio = ((loud @ spread) / (noise @ spread))[:, inside].max(axis=1)
    return float(10 * np.log10(np.median(ratio))) + OFFSET_DB


def _is_main(identity: Identity, level: ElementLevel) -> bool:
    loud_enough = level.in_mix_lu is not None and level.in_mix_lu >= MAIN_LU
    return loud_enough and identity.role not in LEFT_OUT and identity.copy_of is None and level.plays_share >= MAIN_SHARE


def faders_db(over_db: Sequence[float | None], energy: Floats, evened: Sequence[bool]) -> tuple[float | None, ...]:
    """Return the fader changes that even elements out.

    All ``evened`` ones then stand equally far above just audible, their summed energy kept.

    Parameters
    ----------
    over_db
        How far each stands above just audible now.
    energy
        K-weighted energy of each over the song, shape ``(n,)``.
    evened
        Which of them count: the middle is their median.

    Returns
    -------
    Changes in dB; None where nothing is known, or with fewer than two to even out.

    Examples
    --------
    >>> [round(change, 2) for change in faders_db([10.0, 4.0, 7.0], np.array([1.0, 1.0, 1.0]), [True, True, True])]
    [-3.67, 2.33, -0.67]
    """
    known = [over for over, wanted in zip(over_db, evened, strict=True) if wanted and over is not None]
    if len(known) < 2:
        return (None,) * len(over_db)
    middle = float(np.median(known))
    change = np.array([middle - over if wanted and over is not None else 0.0 for over, wanted in zip(over_db, evened, strict=True)])
    rows = np.array(evened, np.bool_)
    kept_db = 10 * np.log10(energy[rows].sum() / (energy[rows] * 10 ** (change[rows] / 10)).sum())
    return tuple(None if over is None else float(middle - over + kept_db) for over in over_db)


def _lead(identities: Sequence[Identity], levels: Sequence[ElementLevel]) -> int | None:
    """Return the element that leads: the loudest vocal that plays a good share of the song; without one, the loudest lead."""
    for role in LEAD_ROLES:
        fit = [
            (level.while_playing_lu, number)
            for number, (identity, level) in enumerate(zip(identities, levels, strict=True))
            if identity.role == role and level.while_playing_lu is not None and identity.copy_of is None and level.plays_share >= MAIN_SHARE
        ]
        if fit:
            return max(fit)[1]
    return None


def plan_levels(
    identities: Sequence[Identity],
    traces: Sequence[ElementTrace],
    levels: Sequence[ElementLevel],
    mix: ElementTrace,
    target: Target,
    since_earlier: Mapping[str, float] | None = None,
) -> Plans:
    """Return the level plan of every element.

    Main elements play a quarter of the song or more, lie no more than 30 LU below the mix, and are neither hats, effects nor copies.
    They are evened out, and lie as far apart as their loudness against the mix while they play. A silent element, and a mix too
    soft or short for a loudness, have no plan. A lead may lie as deep as it likes: then that is what there is to say.
    """
    mix_lufs = integrated_lufs(mix.k_energy[: whole_steps(mix)])
    over: list[tuple[float | None, ...]] = [(None,) * len(traces)] * 2
    if mix_lufs is not None:
        noises = [noise_bands(mix_lufs, mix.rate_hz, mix.channels, shape) for shape in (None, target)]
        over = [tuple(over_noise_db(trace, noise) for trace in traces) for noise in noises]
    is_main = [_is_main(identity, level) for identity, level in zip(identities, levels, strict=True)]
    energy = np.array([float(k_energy(trace, mix.channels).sum()) for trace in traces])
    faders = [faders_db(value, energy, is_main) for value in over]
    loud = [level.while_playing_lu for level in levels]
    of_main = [value for value, main in zip(loud, is_main, strict=True) if main and value is not None]
    middle = float(np.median(of_main)) if len(of_main) >= 2 else None
    plans = []
    for number, identity in enumerate(identities):
        own, left_out = loud[number], identity.role in LEFT_OUT
        usual_lu, usual_spread_lu = (None, None) if identity.role_from == "open" else usual_level(identity.role)
        plans.append(
            LevelPlan(
                over_pink_db=over[0][number], over_target_db=over[1][number],
                pink_fader_db=None if left_out else faders[0][number],
                target_fader_db=None if left_out else faders[1][number],
                stands_out_db=None if own is None or middle is None else own - middle,
                usual_lu=usual_lu, usual_spread_lu=usual_spread_lu,
                since_earlier_db=None if since_earlier is None else since_earlier.get(identity.name),
            )
        )  # fmt: skip
    lead = _lead(identities, levels)
    return Plans(
        plans=tuple(plans),
        closeness_db=max(of_main) - min(of_main) if len(of_main) >= 2 else None,
        main=tuple(identity.name for identity, main in zip(identities, is_main, strict=True) if main),
        lead=None if lead is None else identities[lead].name,
        lead_lu=None if lead is None else levels[lead].while_playing_lu,
    )
