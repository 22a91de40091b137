"""Compares two bounces of one song.

Align, measure and judge both, match findings, and see whether the change went the advised way.
"""

from dataclasses import dataclass
from pathlib import Path

from advisor.app.progress import Progress
from advisor.app.settings import Settings
from advisor.app.yardstick import yardstick_of
from advisor.compare import differences
from advisor.history.elements import ComparedElements, compare_elements
from advisor.history.followed import FollowedMove
from advisor.history.promised import advised
from advisor.history.reading import all_findings, bounce_findings, reading, total_excess
from advisor.history.story import moves_of
from advisor.judging.finding_history import follow, through
from advisor.judging.finding_records import FindingChange
from advisor.judging.judge import judge
from advisor.judging.reporting import EXCESS_STEP
from advisor.judging.verdict import verdict
from advisor.material import Material, attach_stems, fingerprints, lay_on_elements, notes_of, open_material
from advisor.measuring.measure import measure
from advisor.remedies.wording import remedy_sentence
from advisor.report.build import build
from advisor.report_model.comparison import BounceAlignment, BounceFinding, ComparedBounce, ComparedFinding, ComparedMove, Comparison, Way
from advisor.report_model.report import Report
from advisor.sources.alignment import Alignment, align
from features.elements.fingerprint import Fingerprint
from features.records.level import Level

LENGTH_STEP_S = 1.0


@dataclass(frozen=True, slots=True)
class BouncePair:
    """The reports of both bounces, and their alignment."""

    earlier: Report
    later: Report
    alignment: Alignment
    elements: ComparedElements | None = None


@dataclass(frozen=True, slots=True)
class _MeasuredBounce:
    """A bounce's report, and its elements' numbers where it has stems."""

    report: Report
    prints: tuple[Fingerprint, ...]


def measured_pair(
    earlier: Path,
    later: Path,
    settings: Settings,
    progress: Progress,
    first_words: str = "",
    stems: tuple[Path, Path] | None = None,
) -> BouncePair:
    """Open, align, measure and judge both.

    With ``stems``, a folder of them for each, also element against element.
    """
    old_stems, new_stems = stems or (None, None)
    with open_material(earlier, old_stems, progress) as first, open_material(later, new_stems, progress) as second:
        if first_words:
            progress.announce(first_words)
        progress.step("Looking for the same music in both")
        alignment = align(first.source, second.source)
        old, new = _measured(first, settings, progress), _measured(second, settings, progress)
    return BouncePair(old.report, new.report, alignment, compare_elements(old.prints, new.prints, old.report, new.report))


def _measured(material: Material, settings: Settings, progress: Progress) -> _MeasuredBounce:
    yardstick = yardstick_of(settings)
    alone = measure(material.source, material.file, material.not_finite, yardstick, progress)
    measured, song = attach_stems(material, alone, yardstick, progress)
    judged = lay_on_elements(material, judge(measured, yardstick))
    report = build(measured, judged, verdict(dict(measured.records), judged), settings, notes_of(material, judged))
    return _MeasuredBounce(report, fingerprints(song))


def compare(pair: BouncePair) -> Comparison:
    """Return the comparison. A pure function of what was measured."""
    earlier, later, alignment = pair.earlier, pair.later, pair.alignment
    changes, _ = follow(through([bounce_findings(earlier, 1)]), bounce_findings(later, 2))
    return Comparison(
        tool=later.tool,
        settings=later.settings,
        earlier=_bounce(earlier),
        later=_bounce(later),
        same_song=alignment.same,
        same_file=earlier.mix.sha256 == later.mix.sha256,
        alignment=BounceAlignment(
            offset_s=alignment.offset_s if alignment.same else None,
            upside_down=alignment.upside_down,
            stretches_matched=alignment.matched,
            stretches_tried=alignment.tried,
        ),
        longer_by_s=_longer(earlier, later),
        louder_by_lu=differences.louder_by(earlier, later),
        readings=differences.readings(earlier, later),
        bands=differences.bands(earlier, later),
        stretches=differences.stretches(earlier, later, alignment.offset_s) if alignment.same else (),
        excess=(total_excess(earlier), total_excess(later)),
        findings=tuple(_finding(change) for change in changes),
        moves=tuple(_move(move) for move in _moves(earlier, later, pair.elements)) if alignment.same else (),
        elements=() if pair.elements is None else pair.elements.changes,
    )


def _bounce(report: Report) -> ComparedBounce:
    mix = report.mix
    return ComparedBounce(
        name=mix.name,
        sha256=mix.sha256,
        duration_s=mix.duration_s,
        rate_hz=mix.rate_hz,
        channels=mix.channels,
        notes=report.notes,
        verdict=report.verdict,
        clean_lufs=None if report.outlook is None else report.outlook.clean_lufs,
        integrated_lufs=reading(report, Level, lambda level: level.integrated_lufs),
        findings=tuple(
            BounceFinding(finding.rule, finding.title, finding.excess, finding.confidence, finding.message, finding.where)
            for finding in all_findings(report)
        ),
    )


def _longer(earlier: Report, later: Report) -> float | None:
    longer = later.mix.duration_s - earlier.mix.duration_s
    return longer if abs(longer) >= LENGTH_STEP_S else None


def _finding(change: FindingChange) -> ComparedFinding:
    return ComparedFinding(
        rule=change.key.rule,
        stem=change.key.stem,
        band_hz=change.key.band_hz,
        title=change.title,
        state="only later" if change.state == "new" else change.state,
        before=change.before,
        after=change.after,
    )


def _moves(earlier: Report, later: Report, elements: ComparedElements | None) -> tuple[FollowedMove, ...]:
    """Judge what the findings of the earlier bounce ask for.

    Nothing was tried, so the rules' own amounts are what counts.
    """
    words = {finding.title: remedy_sentence(finding.remedy) for finding in all_findings(earlier) if finding.remedy is not None}
    return moves_of(advised(earlier, words), earlier, later, bounce_findings(later, 2), elements)


def _move(move: FollowedMove) -> ComparedMove:
    change = move.change
    return ComparedMove(
        rule=move.promise.key.rule,
        title=move.promise.title,
        move=move.promise.move,
        way=way_of(move),
        verdict=move.verdict,
        sure=move.sure,
        sure_because=move.because,
        share=None if change is None else change.share,
        reading=None if change is None else change.read_from,
        promised=None if change is None else change.promised,
        measured=None if change is None else change.measured,
        unit=None if change is None else change.unit,
    )


def way_of(move: FollowedMove) -> Way:
    """Return which way the change went."""
    if move.change is None:
        return "unknown"
    if move.verdict != "not done":
        return "advised"
    far = -0.3 if move.change.unit else -EXCESS_STEP / max(move.change.promised, EXCESS_STEP)
    return "other" if move.change.share <= far else "neither"
