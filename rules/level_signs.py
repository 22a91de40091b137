"""What the rules about an element's level share: signs that must agree, since songs differ in it by several dB."""

from collections.abc import Sequence
from dataclasses import dataclass

from features.element_records import Element, Elements
from rules.base import Confidence, limit
from rules.elements import inaudible, listed, present
from rules.readings import past, within

MOST_OF_IT = 0.7  # of how far it seems off: part of any distance is the song's own
LEAST_DB = 1.5
MOST_DB = 9.0


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
        0.2, unit="share hidden", low=0.05, high=0.9, source="judgement", says="an element it hides this much of counts as covered by it"
    )
    fewest_covered: float = limit(
        2.0, unit="elements", low=1.0, high=10.0, source="judgement", says="covering this many others is one sign"
    )


@dataclass(frozen=True, slots=True)
class QuietLimits(Limits):
    """What may be set in mixproof.toml."""

    heard_share: float = limit(
        0.35, unit="share heard", low=0.1, high=0.9, source="judgement", says="an element of which less is heard shows one sign"
    )


@dataclass(frozen=True, slots=True)
class Sign:
    """One sign: the clause that states it, how far past its limit, and by how many dB the level seems off, if it says so."""

    words: str
    excess: float
    off_db: float | None = None


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
        masks = Sign(f"it covers {listed(covered)}", past(len(covered), t.fewest_covered - 1.0, 1.0))
    return _weigh(one, masks, t, louder=True)


def too_quiet(one: Element, t: QuietLimits) -> Verdict | None:
    """Return what speaks for an element being too quiet; None when too little does, or when it is not heard at all."""
    share = one.masking.audible_share
    if inaudible(one):
        return None
    masks = None
    if share is not None and share < t.heard_share:
        masks = Sign(f"only {share:.0%} of it is heard", past(-share, -t.heard_share, 0.1))
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
    role, plan = _role_sign(one, t, louder=louder), _plan_sign(one, t, louder=louder)
    signs = tuple(sign for sign in (role, masks, plan) if sign is not None)
    if len(signs) >= 2:
        return Verdict(
            signs, sum(sign.excess for sign in signs) / len(signs), "medium",
            f"{'three' if len(signs) > 2 else 'two'} signs agree, but it is told against what such elements usually do, "
            "and songs differ in that by 3 to 7 dB", _mean_off(signs),
        )  # fmt: skip
    alone = one.level_plan.usual_spread_lu
    if role is None or role.off_db is None or not alone:
        return None
    excess = past(role.off_db / alone, t.spreads_alone, 1.0)
    because = "it only lies far from what such elements usually do; nothing else speaks for it"
    return Verdict(signs, excess, "low", because, role.off_db) if excess > 0.0 else None


def _role_sign(one: Element, t: Limits, *, louder: bool) -> Sign | None:
    level, usual, spread = one.level.in_mix_lu, one.level_plan.usual_lu, one.level_plan.usual_spread_lu
    if level is None or usual is None or not spread:
        return None
    off_db = level - usual if louder else usual - level
    if off_db <= t.spreads * spread:
        return None
    side = "above" if louder else "below"
    words = f"it is {off_db:.0f} LU {side} what its role usually has ({one.role}: {usual:.0f} ± {spread:.0f} LU against the mix)"
    return Sign(words, past(off_db / spread, t.spreads, 1.0), off_db)


def _plan_sign(one: Element, t: Limits, *, louder: bool) -> Sign | None:
    plan = one.level_plan
    wanted_db = plan.target_fader_db if plan.target_fader_db is not None else plan.pink_fader_db
    if wanted_db is None:
        return None
    off_db = -wanted_db if louder else wanted_db
    if off_db <= t.plan_db:
        return None
    noise = "noise with the target's spectrum" if plan.target_fader_db is not None else "pink noise"
    words = f"against {noise} it stands {off_db:.0f} dB {'above' if louder else 'below'} the others"
    return Sign(words, past(off_db, t.plan_db, 2.5), off_db)


def _mean_off(signs: Sequence[Sign]) -> float:
    stated = [sign.off_db for sign in signs if sign.off_db is not None]
    return sum(stated) / len(stated)
