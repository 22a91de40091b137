"""Measures the elements of a song from their traces."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace

from features.elements.identity import Identity
from features.elements.levels.at_faders import AtFaders, sounding_as_one
from features.elements.levels.level_moves import Moves, find_moves
from features.elements.levels.level_plan import LEFT_OUT, plan_levels
from features.elements.levels.levels import measure_level
from features.elements.masking.covers import measure_masking
from features.elements.masking.masking import mask
from features.elements.meter import ElementTrace
from features.records.balance import Target
from features.records.base import Absence
from features.records.elements import Element, ElementLevel, ElementMasking, Elements, LevelMove, LevelPlan, Mixture

NOT_COMPARED = Mixture(0.0, 0.0, None, None, None, "The stems were not compared with a mix.")
SHORTEST_S = 0.4


def measure_elements(
    identities: Sequence[Identity],
    traces: Mapping[str, ElementTrace],
    mix: ElementTrace,
    rest: ElementTrace | None,
    target: Target,
    since_earlier: Mapping[str, float] | None = None,
    *,
    mixture: Mixture = NOT_COMPARED,
) -> Elements:
    """Measure levels, masking and level plan of all elements.

    Parameters
    ----------
    identities
        Who the stems are.
    traces
        Of each, by name, in mix time, at the mix's rate and at its level in the mix.
    mix, rest
        Traces of the mix, and of what it holds beyond the stems; None when that is negligible.
    target
        The spectrum that shapes the second kind of noise.
    since_earlier
        Change of each element's level against an earlier bounce, in dB, by name.
    mixture
        How well the stems sum to the mix.

    Returns
    -------
    Elements
        Without dynamics, headroom, groups, and kick and bass. A silent element has its record too, of ``None`` with reasons in
        ``absent``, where fields are called ``elements.NAME.level.integrated_lufs`` and so on. A copy of another element is judged
        together with it, and neither covers the other.
    """
    own = [traces[identity.name] for identity in identities]
    levels = [measure_level(trace, mix) for trace in own]
    maskings = _maskings(identities, own, rest)
    plans = plan_levels(identities, own, levels, mix, target, since_earlier)
    moves = find_moves(identities, AtFaders(identities, traces, mix, rest, (levels, maskings, plans.plans)))
    elements = tuple(
        Element(
            name=identity.name, role=identity.role, group=identity.group, role_from=identity.role_from, channels=identity.channels,
            rate_hz=identity.rate_hz, offset_s=identity.offset_s, gain_db=identity.gain_db, silent=identity.silent or trace.silent,
            copy_of=identity.copy_of,
            level=level, masking=masking, level_plan=plan,
        )
        for identity, trace, level, masking, plan in zip(identities, own, levels, maskings, _with_moves(plans.plans, moves), strict=True)
    )  # fmt: skip
    absent = [
        absence for element, trace in zip(elements, own, strict=True) for absence in _absences(element, trace, plans.main, moves.moves)
    ]
    if plans.closeness_db is None:
        absent.append(Absence("closeness_db", "there are fewer than two main elements"))
    if plans.lead is None:
        absent += [Absence(name, "no vocal and no lead plays a quarter of the song or more") for name in ("lead", "lead_lu")]
    return Elements(
        elements=elements,
        mixture=mixture,
        groups=(),
        kick_and_bass=None,
        closeness_db=plans.closeness_db,
        main=plans.main,
        lead=plans.lead,
        lead_lu=plans.lead_lu,
        moves=moves.moves,
        absent=tuple(absent),
    )


def _with_moves(plans: Sequence[LevelPlan], moves: Moves) -> tuple[LevelPlan, ...]:
    """Return the plans with how far each lies off, and where it stands once the moves are done."""
    if not moves.moves:
        return tuple(replace(plan, off_db=off_db) for plan, off_db in zip(plans, moves.offs_db, strict=True))
    then = zip(moves.offs_db, moves.then.playing_lu, moves.then.shares, strict=True)
    return tuple(replace(plan, off_db=off_db, then_lu=lu, heard_then=share) for plan, (off_db, lu, share) in zip(plans, then, strict=True))


def _maskings(identities: Sequence[Identity], traces: Sequence[ElementTrace], rest: ElementTrace | None) -> tuple[ElementMasking, ...]:
    """Return what is heard of each element; copies sound as one with what they are copies of."""
    by_name = {identity.name: trace for identity, trace in zip(identities, traces, strict=True)}
    owner, gains_db = sounding_as_one(identities, by_name)
    if not gains_db:
        return ()
    masked = mask([by_name[name] for name in gains_db], rest, list(gains_db.values()))
    masking_of = dict(zip(gains_db, measure_masking(masked, tuple(gains_db)), strict=True))
    return tuple(masking_of[owner[identity.name]] for identity in identities)


def _missing(record: ElementLevel | ElementMasking | LevelPlan) -> Iterator[str]:
    for name in record.__dataclass_fields__:
        if getattr(record, name) is None:
            yield name


def _absences(element: Element, trace: ElementTrace, main: Sequence[str], moves: Sequence[LevelMove]) -> Iterator[Absence]:
    parts: dict[str, ElementLevel | ElementMasking | LevelPlan] = {
        "level": element.level,
        "masking": element.masking,
        "level_plan": element.level_plan,
    }
    for part, record in parts.items():
        for name in _missing(record):
            yield Absence(f"elements.{element.name}.{part}.{name}", _reason(name, element, trace, main, moves))


def _reason(name: str, element: Element, trace: ElementTrace, main: Sequence[str], moves: Sequence[LevelMove]) -> str:
    fader = name in {"pink_fader_db", "target_fader_db"}
    reasons = (
        (name == "since_earlier_db", "no earlier bounce was compared"),
        (element.silent, "the stem is silent"),
        (
            name in {"usual_lu", "usual_spread_lu", "off_db"} and element.role_from == "open",
            "its name and its sound disagree on what it is",
        ),
        (name in {"then_lu", "heard_then"} and not moves, "no fader lies far enough off"),
        (name == "off_db" and element.copy_of is not None, "it is a copy of another element"),
        (name == "pan_db" and trace.channels == 1, "the stem is mono"),
        (fader and element.role in LEFT_OUT, "hats and effects are left as they are by this method"),
        ((fader or name == "stands_out_db") and len(main) < 2, "there are fewer than two main elements"),
        (name == "off_db" and element.masking.audible_share is not None, "there are fewer than three elements to compare"),
        (trace.duration_s < SHORTEST_S, f"the sound is shorter than {SHORTEST_S} s"),
    )
    return next((reason for holds, reason in reasons if holds), "the element or the mix is nowhere louder than -70 LUFS")
