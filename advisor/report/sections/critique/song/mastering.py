"""Shows the mastering chain, its result and its cost."""

from collections.abc import Iterator
from dataclasses import dataclass

from advisor.app.words import STOPPED_BY, frequency, lowered, number, span
from advisor.report.filling import filled
from advisor.report.streaming import streaming_words
from advisor.report_model.mastering import ChainDamage, ChainResult, ChainSettings, MasteringMove, MasteringSection, ToneDifference
from advisor.report_model.report import Report
from features.records.outlook import DAMAGE

PLACE = 100
NAMES = {"release": "limiter release", "glue": "glue compression", "saturation": "saturation", "waveshaper": "waveshaper after the limiter"}
NEAR = 0.25  # of a limit
QUICK_MS = 20.0


@dataclass(frozen=True, slots=True)
class TrialRow:
    """A chain that was tried: its drive, damage and tone."""

    amount: str
    kept: bool
    drive_db: float
    damage: ChainDamage
    bright: str


@dataclass(frozen=True, slots=True)
class NextLoudness:
    """What 1 LU more would take and cost."""

    lufs: float
    drive_db: float
    cost: str


@dataclass(frozen=True, slots=True)
class WithoutPlan:
    """The same chain's result on the mix before the plan."""

    result: ChainResult
    threshold: str
    verdict: str
    damage: str


def section(report: Report) -> Iterator[str]:
    """Yield the chain. Nothing where none was looked for."""
    stage = report.mastering
    if stage is None:
        return
    limiter = stage.chain.limiter
    yield from filled(
        __name__,
        stage=stage,
        outcome=list(_outcome(stage, report)),
        stretch=span(stage.stretch),
        state=_state(stage),
        turned="up" if limiter.gain_db >= 0 else "down",
        gain_db=abs(limiter.gain_db),
        links=list(_links(stage.chain)),
        quick=limiter.release_ms <= QUICK_MS,
        limiter_bright=_bright(stage.limiter_tone),
        trials=[TrialRow(_amount(move), move.kept, move.after.drive_db, move.after.damage, _bright(move.tone)) for move in stage.moves],
        left_out=list(_left_out(stage)),
        brightness=list(_brightness(stage)),
        more=_more(stage),
        without_plan=_without_plan(stage),
        preview=stage.preview,
        streaming=streaming_words(stage.streaming),
    )


def _state(stage: MasteringSection) -> str:
    return "as the plan leaves it" if stage.after_plan else "as it is"


def _outcome(stage: MasteringSection, report: Report) -> Iterator[str]:
    state = _state(stage)
    reached, target = stage.reached, stage.target_lufs
    if stage.reaches_cleanly:
        yield (f"On the mix {state}, this chain reaches {number(reached.lufs)} LUFS cleanly.")
    else:
        worst = STOPPED_BY[reached.damage.nearest_limit]
        how = "gets there only with audible damage" if stage.reaches_target else f"ends at {number(reached.lufs)} LUFS"
        clean = stage.clean.chain.limiter
        yield (
            f"On the mix {state}, {target:g} LUFS is out of reach cleanly: the chain {how} ({worst}). Go back to the mix, or master to "
            f"{number(stage.clean_lufs)} LUFS, with the limiter's gain at {number(clean.gain_db)} dB and the rest as below."
        )
        yield from _worth(stage, report)


def _worth(stage: MasteringSection, report: Report) -> Iterator[str]:
    best = stage.worth_most
    if best is None:
        none = "No step of the plan brings it" if report.plan else "No move that was tried in the mix brings it"
        yield f"{none} clearly nearer."
        return
    step = report.plan[best.step - 1]
    yield (
        f"Worth most in the mix is step {best.step} of the plan, {lowered(step.title)}: it is worth {number(best.gain_lu)} LU"
        f"{', counted here' if stage.after_plan else ''}."
    )


def settings_of(kind: str, chain: ChainSettings) -> str:
    """Return the settings of a chain's move in words."""
    limiter = chain.limiter
    if kind == "glue" and chain.glue:
        glue = chain.glue
        return (
            f"threshold {number(glue.threshold_dbfs)} dBFS, {glue.ratio:g}:1, attack {glue.attack_ms:g} ms, release "
            f"{glue.release_ms:g} ms, knee {glue.knee_db:g} dB: the needle moves about {glue.reduction_db:g} dB"
        )
    if kind == "saturation" and chain.saturation:
        saturation = chain.saturation
        return (
            f"raise the mix by {number(saturation.into_db)} dB, so that its highest peak is at full scale; a soft curve (tanh) with "
            f"{saturation.drive_db:g} dB of drive"
        )
    if kind == "waveshaper":
        return (
            f"a soft curve (tanh) that keeps peaks at the ceiling and raises what lies below by up to {chain.waveshaper_raise_db:g} dB; "
            "without such a tool, set the limiter's gain for the same loudness"
        )
    return f"gain {number(limiter.gain_db)} dB, ceiling {limiter.ceiling_dbtp:g} dBTP, release {limiter.release_ms:g} ms, look-ahead 5 ms"


def _links(chain: ChainSettings) -> Iterator[tuple[str, str]]:
    """Yield name and settings of each link of the chain."""
    kinds = [kind for kind, used in (("glue", chain.glue), ("saturation", chain.saturation), ("limiter", True)) if used]
    kinds += ["waveshaper"] if chain.waveshaper_raise_db else []
    for kind in kinds:
        name = "Limiter" if kind == "limiter" else NAMES[kind][:1].upper() + NAMES[kind][1:]
        yield name, f"{settings_of(kind, chain)}."
    if chain.trim_db <= -0.05:
        ceiling = f"{chain.limiter.ceiling_dbtp:g} dBTP"
        yield (
            "Trim",
            f"{number(chain.trim_db)} dB, since the curve lifts true peaks by that much; it ends at {ceiling}.",
        )


def _left_out(stage: MasteringSection) -> Iterator[str]:
    left = [move for move in stage.moves if not move.kept]
    for move in left:
        name = "Another release" if move.kind == "release" else NAMES[move.kind].capitalize()
        yield f"{name} was left out: {_why_left(move)}."
    if any(move.kind == "glue" for move in left) and stage.glue_dbfs:
        words = " or ".join(f"{number(threshold)} dBFS at {ratio}:1" for ratio, threshold in stage.glue_dbfs.items())
        yield (
            f"If you want the glue for its feel: with attack 30 ms and release 100 ms, {words} (for aggressive songs) "
            "moves the needle about 2 dB on this song."
        )


def _bright(tone: ToneDifference | None) -> str:
    return "" if tone is None else f"{round(tone.bright_db, 1) + 0.0:+.1f} dB"


def _amount(move: MasteringMove) -> str:
    chain = move.chain
    if move.kind == "release":
        return f"release {chain.limiter.release_ms:g} ms"
    if move.kind == "glue" and chain.glue is not None:
        return f"glue at {number(chain.glue.threshold_dbfs)} dBFS, {chain.glue.ratio:g}:1"
    if move.kind == "saturation" and chain.saturation is not None:
        return f"saturation, {chain.saturation.drive_db:g} dB"
    return f"waveshaper, {chain.waveshaper_raise_db:g} dB"


def _why_left(move: MasteringMove) -> str:
    before, after = move.before.damage.shares, move.after.damage.shares
    worse = [
        (after[name] - share, f"{DAMAGE[name].phrase} would use {after[name]:.0%} of its limit instead of {share:.0%}")
        for name, share in before.items()
        if after[name] - share >= 0.05
    ]
    if worse:
        return max(worse)[1]
    if max(before.values()) < NEAR:
        return "the limiter alone is far from being heard, so there is nothing to gain"
    return "it would gain too little"


def _brightness(stage: MasteringSection) -> Iterator[str]:
    changes = [(NAMES[move.kind], move.tone) for move in stage.moves if move.kept and move.tone.heard]
    changes += [("the whole chain", stage.tone)] if stage.tone.heard else []
    for name, tone in changes:
        yield f"{name[:1].upper() + name[1:]}, at matched loudness: {tone_words(tone)}: listen before you keep it."


def tone_words(tone: ToneDifference) -> str:
    """Return a change of tone in words."""
    bright = tone.bright_db
    words = [f"{abs(bright):.1f} dB {'brighter' if bright > 0 else 'darker'} above 5 kHz"] if abs(bright) >= 0.5 else []
    if abs(tone.tilt_db_per_octave) >= 0.2:
        words.append(f"tilt {tone.tilt_db_per_octave:+.1f} dB per octave")
    if abs(tone.ear_share) >= 0.015:
        words.append(f"{100 * tone.ear_share:+.0f} % in the ear-sensitive band (2-5 kHz)")
    words += [f"most around {frequency(change.centre_hz)} ({change.gain_db:+.1f} dB)" for change in tone.changes[:1]]
    return ", ".join(words)


def _more(stage: MasteringSection) -> NextLoudness | None:
    more = stage.one_lu_more
    if more is None:
        return None
    before, after = stage.reached.damage.shares, more.damage.shares
    costs = [
        f"{DAMAGE[name].phrase} {share:.0%} to {after[name]:.0%} of its limit"
        for name, share in before.items()
        if after[name] - share >= 0.05
    ]
    cost = "; ".join(costs) if costs else "no reading moves by a twentieth of its limit"
    end = "still clean" if more.damage.clean else "audible"
    return NextLoudness(more.lufs, more.drive_db - stage.reached.drive_db, f"{end}: {cost}")


def _without_plan(stage: MasteringSection) -> WithoutPlan | None:
    now = stage.as_it_is
    if now is None:
        return None
    worst, glue = now.damage.nearest_limit, now.chain.glue
    return WithoutPlan(
        result=now,
        threshold=f", glue threshold {number(glue.threshold_dbfs)} dBFS" if glue else "",
        verdict="clean" if now.damage.clean else f"not clean: {STOPPED_BY[worst]}",
        damage=(
            f"{DAMAGE[worst].phrase} uses {now.damage.shares[worst]:.0%} of its limit, "
            f"against {stage.reached.damage.shares[worst]:.0%} after the plan"
        ),
    )
