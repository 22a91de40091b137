"""Your elements, in report.md: who they are, how loud and how audible, their faders by the methods for setting levels, and their groups."""

from collections.abc import Iterator, Sequence

from advisor.app.words import frequency, number, plain, sentence
from advisor.report_model.report import Report
from features.records.elements import Element, ElementGroup, ElementHeadroom, Elements, KickAndBass
from features.sound.clock import clock

RAW = "mixing/element_raw"

ROLE_FROM = {"name": "", "sound": " (by its sound)", "you": " (set by you)"}
WHO = (
    "In the mix: its loudness minus the mix's. Of it heard: the share of its own loudness that stays audible over all the others, by a "
    "masking model; a voice is picked out better than the model knows. A role that is wrong is set in `stems.toml` in the folder of the "
    "stems."
)
METHOD = (
    "The pink-noise method: noise runs at the mix's loudness, and each fader comes up until its element is just audible over it. Over "
    "noise: how far the element stands above that now. Fader: what would even it out with the others. It is common practice and no study "
    "has checked it; pink noise is brighter than released music, so the second pair of columns uses noise shaped like finished songs. "
    "Offsets to try, not orders: taste, and cymbals most of all, depart from it. Usual: what elements of this role have in hobby "
    "productions, mean and spread."
)
CLOSE = (
    "Close mixes keep them within about 3 dB (common practice, no published source); elements that sit close let a limiter work unheard. "
    "Further apart is no fault by itself."
)
LEAD = (
    "-4.5 to -1.5 LU is ordinary for a lead voice (several studies of released music and of mixing engineers; there is no single right "
    "value); an instrument that leads may lie lower."
)
ROOM = (
    "How much louder the limiter could make the densest stretch, unheard. Plus: this element takes more room than it gives loudness. "
    "Minus: it is part of what makes the mix loud."
)
STATES = {
    "raw": "could use compression",
    "finished": "leave it uncompressed",
    "over-compressed": "over-compressed already",
    "unclear": "no clear sign",
}


def elements_text(report: Report) -> Iterator[str]:
    """Write the section on elements; nothing without stems."""
    stems = report.stems
    mixture = report.measurements.get(Elements)
    if not stems or mixture is None:
        return
    yield "## Your elements"
    yield ""
    yield plain(sentence(mixture.mixture.meaning))
    yield ""
    yield from _who(stems)
    yield from _levels(stems, mixture)
    yield from _headroom(stems)
    yield from _compression(stems, _in_vain(report))
    yield from _groups(mixture.groups)
    yield from _kick_and_bass(mixture.kick_and_bass)


def _who(stems: Sequence[Element]) -> Iterator[str]:
    yield "| element | plays | group | in the mix | of it heard | covered mostly by |"
    yield "|---|---|---|---:|---:|---|"
    for one in stems:
        yield (
            f"| {plain(one.name)} | {_role(one)} | {one.group} | {number(one.level.in_mix_lu, 1, 'LU')} | "
            f"{_share(one.masking.audible_share)} | {_cover(one)} |"
        )
    yield ""
    yield WHO
    yield ""


def _role(one: Element) -> str:
    said = f"{one.role}{ROLE_FROM[one.role_from]}"
    if one.silent:
        return f"{said}, silent"
    return f"{said}, a copy of {plain(one.copy_of)}" if one.copy_of else said


def _share(share: float | None) -> str:
    return "-" if share is None else f"{share:.0%}"


def _cover(one: Element) -> str:
    if not one.masking.covered_by:
        return "-"
    cover = one.masking.covered_by[0]
    low, high = cover.band_hz
    return f"{plain(cover.by)} ({cover.share:.0%}, {frequency(low)}-{frequency(high)}, most at {clock(cover.where.start_s)})"


def _levels(stems: Sequence[Element], mixture: Elements) -> Iterator[str]:
    rows = [one for one in stems if one.level_plan.pink_fader_db is not None or one.level_plan.target_fader_db is not None]
    if not rows:
        return
    yield "### Setting levels"
    yield ""
    if mixture.closeness_db is not None:
        names = ", ".join(plain(name) for name in mixture.main)
        yield (f"Your main elements ({names}) lie within {number(mixture.closeness_db)} dB of one another while they play. {CLOSE}")
        yield ""
    if mixture.lead_lu is not None:
        lead = f"'{plain(mixture.lead or '')}', as the lead,"
        yield f"{lead} stands at {number(mixture.lead_lu)} LU against the whole mix while it plays; {LEAD}"
        yield ""
    yield "| element | over pink noise | fader by it | over noise shaped like songs | fader by it | usual for its role |"
    yield "|---|---:|---:|---:|---:|---:|"
    for one in rows:
        yield (
            f"| {plain(one.name)} | {number(one.level_plan.over_pink_db, 1, 'dB')} | {_move(one.level_plan.pink_fader_db)} | "
            f"{number(one.level_plan.over_target_db, 1, 'dB')} | {_move(one.level_plan.target_fader_db)} | {_usual(one)} |"
        )
    yield ""
    yield METHOD
    yield ""


def _move(fader_db: float | None) -> str:
    return "-" if fader_db is None else f"{round(fader_db, 1) + 0.0:+.1f} dB"


def _usual(one: Element) -> str:
    if one.level_plan.usual_lu is None:
        return "-"
    return f"{number(one.level_plan.usual_lu)} ± {number(one.level_plan.usual_spread_lu)} LU"


def _headroom(stems: Sequence[Element]) -> Iterator[str]:
    costs = [(one.name, one.headroom) for one in stems if one.headroom is not None and _known(one.headroom)]
    if not costs:
        return
    yield "### What uses up the headroom"
    yield ""
    yield "| element | clean loudness with it 1 dB down | with it out |"
    yield "|---|---:|---:|"
    for name, headroom in sorted(costs, key=lambda cost: -(cost[1].lu_per_db or 0.0)):
        yield f"| {plain(name)} | {_lu(headroom.lu_per_db, 2)} | {_lu(headroom.lu_out, 1)} |"
    yield ""
    yield ROOM
    yield ""


def _known(headroom: ElementHeadroom) -> bool:
    return headroom.lu_per_db is not None or headroom.lu_out is not None


def _lu(value: float | None, digits: int) -> str:
    return "-" if value is None else f"{round(value, digits) + 0.0:+.{digits}f} LU"


def _in_vain(report: Report) -> set[str | None]:
    """Return the elements on which compression was tried, and helped neither alone nor in the plan."""
    raw = [one for one in report.findings if one.rule == RAW]
    planned = {step.stem for step in report.plan if step.rule == RAW}
    return {one.stem for one in raw if one.trial is not None and not one.trial.helps} - planned


def _compression(stems: Sequence[Element], in_vain: set[str | None]) -> Iterator[str]:
    known = [(one.name, one.dynamics) for one in stems if one.dynamics is not None and not one.silent]
    if not known:
        return
    yield "### Does it need compression?"
    yield ""
    for name, found in known:
        signs = "; ".join(plain(sign) for sign in found.signs)
        line = f"- **{plain(name)}**: {STATES[found.state]}{f' ({signs})' if signs else ''}."
        if found.threshold_dbfs is not None:
            line += (
                f" Found on this audio: threshold {number(found.threshold_dbfs)} dBFS, {number(found.ratio)}:1, "
                f"attack {number(found.attack_ms, 0)} ms, release {number(found.release_ms, 0)} ms, "
                f"which takes {number(found.reduction_db)} dB off the loud moments."
            )
        if name in in_vain:
            line += " Tried in the mix it did not help the whole: leave it, unless your ears say otherwise."
        yield line
    yield ""


def _groups(groups: Sequence[ElementGroup]) -> Iterator[str]:
    if not groups:
        return
    yield "### Groups"
    yield ""
    for one in groups:
        members = ", ".join(plain(name) for name in one.members)
        yield f"- **{one.name.capitalize()}** ({members}), {number(one.integrated_lufs, 1, 'LUFS')}: {' '.join(_bus(one))}"
    yield ""


def _bus(one: ElementGroup) -> Iterator[str]:
    if one.glue_2_dbfs is not None:
        yield (
            f"Glue of usually about 2 dB, more where it is loud, with 30 ms attack, 100 ms release: threshold {number(one.glue_2_dbfs)} "
            f"dBFS at 2:1, or {number(one.glue_4_dbfs)} dBFS at 4:1 for aggressive songs."
        )
    if one.stray_peaks and one.ceiling_dbfs is not None:
        yield (
            f"{number(one.stray_peaks_per_minute)} stray peaks a minute: a limiter with its ceiling at "
            f"{number(one.ceiling_dbfs)} dBFS catches only those and rests {one.resting_share:.1%} of the time."
        )
    else:
        yield "No stray peaks."
    if one.parallel_blend_db is not None:
        yield (
            f"Parallel compression, threshold {number(one.parallel_threshold_dbfs)} dBFS, mixed in "
            f"{_beside(one.parallel_blend_db)} the dry sound: quiet parts up by {number(one.parallel_lift_db)} dB, "
            f"peak by {number(one.parallel_peak_rise_db)} dB."
        )


def _beside(blend_db: float) -> str:
    return f"{number(abs(blend_db))} dB {'over' if blend_db > 0 else 'under'}"


def _kick_and_bass(found: KickAndBass | None) -> Iterator[str]:
    if found is None:
        return
    yield "### Kick and bass"
    yield ""
    yield (
        f"At {found.hits} kicks under which {plain(found.bass)} plays, the two together come out {number(found.sum_gain_db)} dB "
        f"against the sum of their powers below 150 Hz (0 is unrelated, below -1 they cancel, above +2 they pile up); "
        f"with the polarity of {plain(found.bass)} reversed {number(found.flipped_gain_db)} dB."
    )
    yield ""
