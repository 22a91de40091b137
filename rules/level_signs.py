"""What the rules about an element's level share: signs that must agree, since songs differ in it by several dB."""

from dataclasses import dataclass

from features.element_records import Element, Elements
from rules.base import Confidence, limit
from rules.elements import inaudible, listed, present
from rules.readings import past, within

MOST_OF_IT = 0.7  # of how far it seems off: part of any distance is the song's own
LEAST_DB = 1.5
MOST_DB = 9.0
UNKNOWN_DB = 4.0  # where only masking speaks, which says nothing about how far


@dataclass(frozen=True, slots=True)
class Limits:
    """What may be set in mixproof.toml, for too loud and too quiet alike."""

    spreads: float = limit(
        1.0,
        unit="spreads between songs",
        low=0.5,
        high=4.0,
        source="element-levels",
        says="further from its role's usual level is one sign",
    )
    spreads_alone: float = limit(
        2.0, unit="spreads between songs", low=1.0, high=6.0, source="element-levels", says="beyond this that sign alone is reported"
    )
    plan_db: float = limit(
        5.0,
        unit="dB",
        low=2.0,
        high=15.0,
        source="level-practice",
        says="standing this far from the others, each against noise shaped like the target, is one sign",
    )


@dataclass(frozen=True, slots=True)
class LoudLimits(Limits):
    """What may be set in mixproof.toml."""

    hidden_share: float = limit(
        0.2,
        unit="share hidden",
        low=0.05,
        high=0.9,
        source="masking-survey",
        says="an element it hides this much of counts as covered by it",
    )
    fewest_covered: float = limit(
        2.0, unit="elements", low=1.0, high=10.0, source="masking-survey", says="covering this many others is one sign"
    )
    covered_alone: float = limit(
        3.0, unit="elements", low=1.0, high=20.0, source="judgement", says="covering this many others is reported for itself"
    )


@dataclass(frozen=True, slots=True)
class QuietLimits(Limits):
    """What may be set in mixproof.toml."""

    heard_share: float = limit(
        0.35, unit="share heard", low=0.1, high=0.9, source="masking-survey", says="an element of which less is heard shows one sign"
    )
    heard_alone: float = limit(
        0.22, unit="share heard", low=0.05, high=0.9, source="masking-survey", says="less than this is reported for itself"
    )


@dataclass(frozen=True, slots=True)
class Sign:
    """One sign: the clause that states it, how far past its limit, and past the limit from which it is enough by itself."""

    words: str
    excess: float
    alone: float = 0.0


@dataclass(frozen=True, slots=True)
class Verdict:
    """What the signs say together."""

    signs: tuple[Sign, ...]
    excess: float
    confidence: Confidence
    sure_because: str
    off_db: float

    @property
    def words(self) -> str:
        """All signs in one clause."""
        clauses = [one.words for one in self.signs]
        return clauses[0] if len(clauses) == 1 else f"{', '.join(clauses[:-1])}, and {clauses[-1]}"

    @property
    def change_db(self) -> float:
        """How far to move the fader, without its direction."""
        return within(MOST_OF_IT * self.off_db, LEAST_DB, MOST_DB)


def too_loud(one: Element, elements: Elements, t: LoudLimits) -> Verdict | None:
    """Return what speaks for an element being too loud; None when too little does."""
    covered = _covered_by(one, elements, t)
    masks = None
    if len(covered) >= t.fewest_covered:
        alone = past(len(covered), t.covered_alone - 1.0, 2.0)
        masks = Sign(f"it covers {listed(covered)}", past(len(covered), t.fewest_covered - 1.0, 1.0), alone)
    return _weigh(one, masks, t, louder=True)


def too_quiet(one: Element, t: QuietLimits) -> Verdict | None:
    """Return what speaks for an element being too quiet; None when too little does, or when it is not heard at all."""
    share = one.masking.audible_share
    if inaudible(one):
        return None
    masks = None
    if share is not None and share < t.heard_share:
        masks = Sign(f"only {share:.0%} of it is heard", past(-share, -t.heard_share, 0.1), past(-share, -t.heard_alone, 0.05))
    return _weigh(one, masks, t, louder=False)


def _covered_by(one: Element, elements: Elements, t: LoudLimits) -> list[str]:
    """Return the names of the elements it hides much of, most first."""
    hidden = [
        (cover.share, other.name)
        for other in present(elements)
        for cover in other.masking.covered_by
        if cover.by == one.name and cover.share >= t.hidden_share
    ]
    return [name for _, name in sorted(hidden, reverse=True)]


def _weigh(one: Element, masks: Sign | None, t: Limits, *, louder: bool) -> Verdict | None:
    role_db, plan_db = _off_role(one, louder=louder), _off_plan(one, louder=louder)
    found = (_role_sign(one, role_db, t, louder=louder), masks, _plan_sign(one, plan_db, t, louder=louder))
    signs = tuple(sign for sign in found if sign is not None)
    off = [each for each in (role_db, plan_db) if each is not None and each > 0.0]
    off_db = sum(off) / len(off) if off else UNKNOWN_DB
    if len(signs) >= 2:
        because = (
            f"{'three' if len(signs) > 2 else 'two'} signs agree, but it is told against what such elements usually do, "
            "and songs differ in that by 3 to 7 dB"
        )
        return Verdict(signs, sum(sign.excess for sign in signs) / len(signs), "medium", because, off_db)
    if not signs or signs[0].alone <= 0.0:
        return None
    because = "it only lies far from what such elements usually do; nothing else speaks for it"
    if signs[0] is masks:
        because = "only masking speaks for it; its level lies within what such elements usually do"
    return Verdict(signs, signs[0].alone, "low", because, off_db)


def _off_role(one: Element, *, louder: bool) -> float | None:
    """Return how far an element lies from the usual level of its role, positive on the side asked for."""
    level, usual = one.level.in_mix_lu, one.level_plan.usual_lu
    if level is None or usual is None:
        return None
    return level - usual if louder else usual - level


def _off_plan(one: Element, *, louder: bool) -> float | None:
    """Return how far an element stands from the others against noise, positive on the side asked for."""
    plan = one.level_plan
    wanted_db = plan.target_fader_db if plan.target_fader_db is not None else plan.pink_fader_db
    if wanted_db is None:
        return None
    return -wanted_db if louder else wanted_db


def _role_sign(one: Element, off_db: float | None, t: Limits, *, louder: bool) -> Sign | None:
    usual, spread = one.level_plan.usual_lu, one.level_plan.usual_spread_lu
    if off_db is None or not spread or off_db <= t.spreads * spread:
        return None
    side = "above" if louder else "below"
    words = f"it is {off_db:.0f} LU {side} what its role usually has ({one.role}: {usual:.0f} ± {spread:.0f} LU against the mix)"
    return Sign(words, past(off_db / spread, t.spreads, 1.0), past(off_db / spread, t.spreads_alone, 1.0))


def _plan_sign(one: Element, off_db: float | None, t: Limits, *, louder: bool) -> Sign | None:
    if off_db is None or off_db <= t.plan_db:
        return None
    noise = "noise with the target's spectrum" if one.level_plan.target_fader_db is not None else "pink noise"
    words = f"against {noise} it stands {off_db:.0f} dB {'above' if louder else 'below'} the others"
    return Sign(words, past(off_db, t.plan_db, 2.5))
