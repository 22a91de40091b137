"""Shows the elements: roles, levels, headroom, compression and groups."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from advisor.app.words import frequency, number
from advisor.report.filling import filled
from advisor.report_model.report import Report
from features.records.elements import Element, ElementDynamics, ElementGroup, ElementHeadroom, Elements
from features.sound.clock import clock

PLACE = 85
RAW = "mixing/element_raw"

ROLE_FROM = {"name": "", "sound": " (by its sound)", "you": " (set by you)", "open": " (open: its name and its sound disagree)"}
STATES = {
    "raw": "could use compression",
    "finished": "leave it uncompressed",
    "over-compressed": "over-compressed already",
    "unclear": "no clear sign",
}


@dataclass(frozen=True, slots=True)
class ElementRow:
    """An element's role, audible share and strongest cover."""

    element: Element
    role: str
    audible: str
    covered_by: str


@dataclass(frozen=True, slots=True)
class LevelRow:
    """An element's faders by the methods for setting levels."""

    element: Element
    pink_fader: str
    target_fader: str
    usual: str


@dataclass(frozen=True, slots=True)
class CompressionRow:
    """Whether an element needs compression."""

    name: str
    state: str
    settings: str
    in_vain: bool


def section(report: Report) -> Iterator[str]:
    """Yield what is known of the elements. Nothing without stems."""
    stems, mixture = report.stems, report.measurements.get(Elements)
    if not stems or mixture is None:
        return
    yield from filled(
        __name__,
        mixture=mixture,
        elements=[ElementRow(stem, _role(stem), _share(stem.masking.audible_share), _cover(stem)) for stem in stems],
        levels=_levels(stems),
        main=", ".join(mixture.main),
        lead_voice=_led_by_a_voice(mixture, stems),
        headroom=_headroom(stems),
        compression=_compression(stems, _in_vain(report)),
        groups=[(group, ", ".join(group.members), " ".join(_bus(group))) for group in mixture.groups],
    )


def _led_by_a_voice(mixture: Elements, stems: Sequence[Element]) -> bool:
    """Return whether the ordinary range of a lead voice says anything here."""
    return mixture.lead_lu is not None and any(stem.name == mixture.lead and stem.role == "vocal" for stem in stems)


def _role(stem: Element) -> str:
    role = f"{stem.role}{ROLE_FROM[stem.role_from]}"
    if stem.silent:
        return f"{role}, silent"
    return f"{role}, a duplicate of {stem.copy_of}" if stem.copy_of else role


def _share(share: float | None) -> str:
    return "-" if share is None else f"{share:.0%}"


def _cover(stem: Element) -> str:
    if not stem.masking.covered_by:
        return "-"
    cover = stem.masking.covered_by[0]
    low, high = cover.band_hz
    return f"{cover.by} ({cover.share:.0%}, {frequency(low)}-{frequency(high)}, most at {clock(cover.where.start_s)})"


def _levels(stems: Sequence[Element]) -> list[LevelRow]:
    plans = [(stem, stem.level_plan) for stem in stems]
    known = [(stem, plan) for stem, plan in plans if plan.pink_fader_db is not None or plan.target_fader_db is not None]
    return [LevelRow(stem, _move(plan.pink_fader_db), _move(plan.target_fader_db), _usual(stem)) for stem, plan in known]


def _move(fader_db: float | None) -> str:
    return "-" if fader_db is None else f"{round(fader_db, 1) + 0.0:+.1f} dB"


def _usual(stem: Element) -> str:
    if stem.level_plan.usual_lu is None:
        return "-"
    return f"{number(stem.level_plan.usual_lu, 0)} ± {number(stem.level_plan.usual_spread_lu, 0)} LU"


def _headroom(stems: Sequence[Element]) -> list[tuple[str, str, str]]:
    """Return names, gains with 1 dB less, and without."""
    costs = [(stem.name, stem.headroom) for stem in stems if stem.headroom is not None and _known(stem.headroom)]
    dearest_first = sorted(costs, key=lambda cost: -(cost[1].lu_per_db or 0.0))
    return [(name, _lu(headroom.lu_per_db, 2), _lu(headroom.lu_out, 1)) for name, headroom in dearest_first]


def _known(headroom: ElementHeadroom) -> bool:
    return headroom.lu_per_db is not None or headroom.lu_out is not None


def _lu(value: float | None, digits: int) -> str:
    return "-" if value is None else f"{round(value, digits) + 0.0:+.{digits}f} LU"


def _in_vain(report: Report) -> set[str | None]:
    """Return the elements on which compression was tried in vain."""
    raw = [card for card in report.findings if card.rule == RAW]
    planned = {step.stem for step in report.plan if step.rule == RAW}
    return {card.stem for card in raw if card.trial is not None and not card.trial.helps} - planned


def _compression(stems: Sequence[Element], in_vain: set[str | None]) -> list[CompressionRow]:
    known = [(stem.name, stem.dynamics) for stem in stems if stem.dynamics is not None and not stem.silent]
    return [CompressionRow(name, _state(dynamics), _settings(dynamics), name in in_vain) for name, dynamics in known]


def _state(dynamics: ElementDynamics) -> str:
    signs = "; ".join(dynamics.signs)
    return f"{STATES[dynamics.state]}{f' ({signs})' if signs else ''}"


def _settings(dynamics: ElementDynamics) -> str:
    if dynamics.threshold_dbfs is None:
        return ""
    return (
        f" For this audio: threshold {number(dynamics.threshold_dbfs)} dBFS, {number(dynamics.ratio)}:1, "
        f"attack {number(dynamics.attack_ms, 0)} ms, release {number(dynamics.release_ms, 0)} ms, "
        f"which takes {number(dynamics.reduction_db)} dB off the loud moments."
    )


def _bus(group: ElementGroup) -> Iterator[str]:
    if group.glue_2_dbfs is not None:
        yield f"Glue: threshold {number(group.glue_2_dbfs)} dBFS at 2:1, {number(group.glue_4_dbfs)} dBFS at 4:1."
    if group.stray_peaks and group.ceiling_dbfs is not None:
        yield (
            f"{number(group.stray_peaks_per_minute)} stray peaks a minute: a limiter with its ceiling at "
            f"{number(group.ceiling_dbfs)} dBFS catches only those and rests for {group.resting_share:.0%} of the time."
        )
    else:
        yield "No stray peaks."
    if group.parallel_blend_db is not None:
        yield (
            f"Parallel compression: threshold {number(group.parallel_threshold_dbfs)} dBFS, blended in "
            f"{_beside(group.parallel_blend_db)} the dry sound; quiet parts up {number(group.parallel_lift_db)} dB, "
            f"peak up {number(group.parallel_peak_rise_db)} dB."
        )


def _beside(blend_db: float) -> str:
    return f"{number(abs(blend_db))} dB {'over' if blend_db > 0 else 'under'}"
