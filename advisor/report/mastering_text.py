"""The mastering stage in report.md: the chain with its numbers, what each move did, what is out of reach, what the listener gets."""

from collections.abc import Iterator

from advisor.app.words import STOPPED_BY, frequency, lowered, number, plain, span
from advisor.report.streaming_text import streaming_text
from advisor.report_model.mastering import ChainDamage, ChainSettings, MasteringMove, MasteringSection, ToneDifference
from advisor.report_model.report import Report
from features.records.outlook import DAMAGE

NAMES = {"release": "limiter release", "glue": "glue compression", "saturation": "saturation", "waveshaper": "waveshaper after the limiter"}
NEAR = 0.25  # of a limit
QUICK_MS = 20.0


def mastering_text(report: Report) -> Iterator[str]:
    """Write the section; nothing where no chain was looked for."""
    stage = report.mastering
    if stage is None:
        return
    yield "## Mastering"
    yield ""
    yield from _outcome(stage, report)
    if stage.reached.drive_db <= 0.0:
        yield from _only_gain(stage)
    else:
        yield from _chain(stage)
        yield from _moves(stage)
        yield from _brightness(stage)
        yield from _more(stage)
    yield from _as_it_is(stage)
    yield from _preview(stage)
    yield from streaming_text(stage.streaming)


def mastering_line(report: Report) -> str:
    """Return the outcome in one line for the terminal; nothing where no chain was looked for."""
    stage = report.mastering
    if stage is None:
        return ""
    reached, limiter = stage.reached, stage.chain.limiter
    if reached.drive_db <= 0.0:
        return f"Mastering: {number(limiter.gain_db)} dB of gain reaches {number(reached.lufs)} LUFS; no limiting is needed."
    if not stage.reaches_cleanly:
        clean = number(stage.clean_lufs)
        return f"Mastering: {stage.target_lufs:g} LUFS is out of reach cleanly; the loudest clean level is {clean} LUFS."
    moves = [NAMES[one.kind] for one in stage.moves if one.kept and one.kind != "release"]
    return f"Mastering: {number(reached.lufs)} LUFS is reached cleanly, the limiter driven {number(reached.drive_db)} dB" + (
        f", with {' and '.join(moves)}." if moves else ", and nothing else."
    )


def _outcome(stage: MasteringSection, report: Report) -> Iterator[str]:
    state = "as the plan leaves it" if stage.after_plan else "as it is"
    reached, target = stage.reached, stage.target_lufs
    if stage.reaches_cleanly:
        yield (
            f"For the mix {state}: the chain below reaches {number(reached.lufs)} LUFS, the target, with every reading of damage within "
            "its limit."
        )
    else:
        worst = STOPPED_BY[reached.damage.nearest_limit]
        how = "reaches it only with damage that is heard" if stage.reaches_target else f"ends at {number(reached.lufs)} LUFS"
        yield (
            f"For the mix {state}, the target of {target:g} LUFS is out of reach cleanly: the chain below {how} "
            f"({worst}). Its loudest clean "
            f"level is {number(stage.clean_lufs)} LUFS. Master to that, or go back to the mix."
        )
        clean = stage.clean.chain.limiter
        yield f"For the clean level set the limiter's gain to {number(clean.gain_db)} dB and leave the rest as it stands here."
        yield from _worth(stage, report)
    yield ""
    yield (
        f"Each move was tried on your audio at the same loudness ({number(reached.lufs)} LUFS) and stays only "
        "where it lowers the damage as "
        f"a whole and raises no reading of it by more than a quarter of its limit; it is read at {span(stage.stretch)}, loudness on "
        "the whole song. Settings found here are where to start "
        "in your own tools, not what they must show."
    )
    yield ""


def _worth(stage: MasteringSection, report: Report) -> Iterator[str]:
    best = stage.worth_most
    if best is None:
        none = "No step of the plan brings it" if report.plan else "No move that was tried in the mix brings it"
        yield f"{none} clearly nearer; the findings above say what stands in the way."
        return
    step = report.plan[best.step - 1]
    yield (
        f"Worth most in the mix is step {best.step} of the plan, {plain(lowered(step.title))}: it brings "
        f"{number(best.gain_lu)} LU of clean loudness, already counted here{'' if stage.after_plan else ' once it is made'}."
    )


def _only_gain(stage: MasteringSection) -> Iterator[str]:
    gain = stage.chain.limiter.gain_db
    yield (
        f"No limiting is needed: turned {'up' if gain >= 0 else 'down'} by {number(abs(gain))} dB the mix is at the "
        "target, and its peaks stay "
        "under the ceiling. Leave the rest of the chain out."
    )
    yield ""


def settings_of(kind: str, chain: ChainSettings) -> str:
    """Return the settings of one move of a chain, in words."""
    limiter = chain.limiter
    if kind == "glue" and chain.glue:
        one = chain.glue
        return (
            f"threshold {number(one.threshold_dbfs)} dBFS, {one.ratio:g}:1, attack {one.attack_ms:g} ms, release "
            f"{one.release_ms:g} ms, knee {one.knee_db:g} dB: the needle swings to about {one.reduction_db:g} dB"
        )
    if kind == "saturation" and chain.saturation:
        saturation = chain.saturation
        return (
            f"raise the mix by {number(saturation.into_db)} dB, so that its highest peak meets the curve at full scale; a "
            "soft curve (tanh) with "
            f"{saturation.drive_db:g} dB of drive"
        )
    if kind == "waveshaper":
        return (
            f"a soft curve (tanh) that leaves peaks at the ceiling where they are and raises what lies below by up to "
            f"{chain.waveshaper_raise_db:g} dB; without such a tool, set the limiter's gain for the same loudness"
        )
    return (
        f"gain {number(limiter.gain_db)} dB into it, so that the highest peak is driven "
        f"{number(limiter.drive_db)} dB past the ceiling; "
        f"release {limiter.release_ms:g} ms, look-ahead 5 ms"
    )


def _chain(stage: MasteringSection) -> Iterator[str]:
    chain = stage.chain
    kinds = [kind for kind, used in (("glue", chain.glue), ("saturation", chain.saturation), ("limiter", True)) if used]
    kinds += ["waveshaper"] if chain.waveshaper_raise_db else []
    for place, kind in enumerate(kinds, 1):
        name = "Limiter" if kind == "limiter" else NAMES[kind][:1].upper() + NAMES[kind][1:]
        yield f"{place}. **{name}:** {settings_of(kind, chain)}."
    ceiling = chain.limiter.ceiling_dbtp
    if chain.trim_db <= -0.05:
        yield (
            f"{len(kinds) + 1}. **Trim:** {number(chain.trim_db)} dB, since the curve lifts the true peak by that "
            "much between the samples; "
            f"it ends at {ceiling:g} dBTP."
        )
    yield ""
    if chain.limiter.release_ms <= QUICK_MS:
        yield (
            "Check by ear: a release this quick is read as cleaner because the music covers what it adds; if the bass turns rough on your "
            "speakers, set it slower."
        )
        yield ""


def _damage(damage: ChainDamage) -> str:
    noise = damage.distortion_nmr_db
    return (
        f"{'none' if noise <= -60.0 else number(noise, 1, 'dB')} | {number(damage.pumping_db, 2)} dB | "
        f"{number(damage.hit_loss_db)} dB "
        f"| {number(damage.density, 2)} LU/dB | {number(damage.psr_db)} dB"
    )


def _moves(stage: MasteringSection) -> Iterator[str]:
    yield "| at the same loudness | drive | distortion | pumping | hits lose | density (LU for each dB of drive) | PSR | above 5 kHz |"
    yield "|---|---:|---:|---:|---:|---:|---:|---:|"
    for number_of, move in enumerate(stage.moves):
        if number_of == 0:
            yield (
                f"| limiter alone, release 80 ms | {number(move.before.drive_db)} dB | "
                f"{_damage(move.before.damage)} | {_bright(stage.limiter_tone)} |"
            )
        yield (f"| {_tried(move)} | {number(move.after.drive_db)} dB | {_damage(move.after.damage)} | {_bright(move.tone)} |")
    yield "| *heard from* | | +1.5 dB | 1.00 dB | 3.0 dB | under 0.50 | | |"
    yield ""
    left = [one for one in stage.moves if not one.kept]
    for move in left:
        name = "Another release" if move.kind == "release" else NAMES[move.kind].capitalize()
        yield f"- {name} was left out: {_why_left(move)}."
    glue = stage.glue_dbfs
    if any(one.kind == "glue" for one in left) and glue:
        words = " or ".join(f"{number(threshold)} dBFS at {ratio}:1" for ratio, threshold in glue.items())
        yield (
            f"- If you want the glue for its feel: with attack 30 ms and release 100 ms, {words} (for aggressive songs) "
            "swings to about 2 dB "
            "on this song."
        )
    if left:
        yield ""


def _bright(tone: ToneDifference | None) -> str:
    return "" if tone is None else f"{round(tone.bright_db, 1) + 0.0:+.1f} dB"


def _tried(move: MasteringMove) -> str:
    chain = move.chain
    amount = f"waveshaper, {chain.waveshaper_raise_db:g} dB"
    if move.kind == "release":
        amount = f"release {chain.limiter.release_ms:g} ms"
    elif move.kind == "glue" and chain.glue is not None:
        amount = f"glue at {number(chain.glue.threshold_dbfs)} dBFS, {chain.glue.ratio:g}:1"
    elif move.kind == "saturation" and chain.saturation is not None:
        amount = f"saturation, {chain.saturation.drive_db:g} dB"
    return f"**+ {amount}**" if move.kept else f"({amount}: left out)"


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
        return "the limiter as it is brings no reading near to being heard, so there is nothing to mend"
    return "it would bring too little to be worth a box in the chain"


def _brightness(stage: MasteringSection) -> Iterator[str]:
    heard = [(NAMES[one.kind], one.tone) for one in stage.moves if one.kept and one.tone.heard]
    heard += [("the whole chain", stage.tone)] if stage.tone.heard else []
    for name, tone in heard:
        yield f"- {name[:1].upper() + name[1:]}, at matched loudness: {tone_words(tone)}: listen before you keep it."
    if not heard:
        yield "Tone, compared at matched loudness, stays that of the mix at every step of the chain."
    yield ""


def tone_words(tone: ToneDifference) -> str:
    """Return a change of tone in words."""
    bright = tone.bright_db
    words = [f"{abs(bright):.1f} dB {'brighter' if bright > 0 else 'darker'} above 5 kHz"] if abs(bright) >= 0.5 else []
    if abs(tone.tilt_db_per_octave) >= 0.2:
        words.append(f"tilt {tone.tilt_db_per_octave:+.1f} dB per octave")
    if abs(tone.ear_share) >= 0.015:
        words.append(f"{100 * tone.ear_share:+.0f} % in the ear-sensitive band (2-5 kHz)")
    words += [f"most around {frequency(one.centre_hz)} ({one.gain_db:+.1f} dB)" for one in tone.changes[:1]]
    return ", ".join(words)


def _more(stage: MasteringSection) -> Iterator[str]:
    more = stage.one_lu_more
    if more is None:
        return
    before, after = stage.reached.damage.shares, more.damage.shares
    costs = [
        f"{DAMAGE[name].phrase} {share:.0%} to {after[name]:.0%} of its limit"
        for name, share in before.items()
        if after[name] - share >= 0.05
    ]
    cost = "; ".join(costs) if costs else "no reading moves by a twentieth of its limit"
    end = "and it would still be clean" if more.damage.clean else "and it would be heard"
    yield (
        f"**The next 1 LU** ({number(more.lufs)} LUFS) takes {number(more.drive_db - stage.reached.drive_db)} dB more drive: {cost}, {end}."
    )
    yield ""


def _as_it_is(stage: MasteringSection) -> Iterator[str]:
    now = stage.as_it_is
    if now is None:
        return
    limiter = now.chain.limiter
    worst = now.damage.nearest_limit
    verdict = "clean" if now.damage.clean else f"not clean: {STOPPED_BY[worst]}"
    glue = now.chain.glue
    threshold = f", glue threshold {number(glue.threshold_dbfs)} dBFS" if glue else ""
    yield (
        f"**The mix as it is**, without the plan: the same chain with gain {number(limiter.gain_db)} dB "
        f"({number(limiter.drive_db)} dB "
        f"past the ceiling{threshold}) gives {number(now.lufs)} LUFS, {verdict}; {DAMAGE[worst].phrase} uses "
        f"{now.damage.shares[worst]:.0%} of its limit, against {stage.reached.damage.shares[worst]:.0%} after the plan."
    )
    yield ""


def _preview(stage: MasteringSection) -> Iterator[str]:
    preview = stage.preview
    if preview is None:
        return
    state = "as the plan leaves it" if stage.after_plan else "as it is"
    yield (
        f"**Preview master:** {plain(preview.file)} is the mix {state} through this chain: {number(preview.lufs)} LUFS, true peak "
        f"{number(preview.true_peak_dbtp)} dBTP, {preview.dither}. It is a preview to judge the chain by, not a finished master."
    )
    yield ""
    if preview.coded:
        worst = preview.coded[0]
        yield (
            f"Encoded and decoded, its true peak is highest from {worst.codec} at {worst.kbps:.0f} kbit/s: "
            f"{worst.true_peak_dbtp:+.1f} dBTP; a ceiling of {number(preview.safe_ceiling_dbtp)} dBTP keeps all "
            "formats that were tried "
            "under full scale."
        )
        yield ""
