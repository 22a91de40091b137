"""Checks a finished master.

Against its mix where that is given, and for release: open, align, measure, judge, put into words.
"""

from collections.abc import Sequence
from contextlib import ExitStack
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from advisor.app.errors import RequestError
from advisor.app.progress import Progress
from advisor.app.settings import Settings
from advisor.app.yardstick import yardstick_of
from advisor.judging.judge import Card, Judged, judge
from advisor.master_check.second_meter import loudness_doubt
from advisor.master_check.shared import Shared, share
from advisor.mastering.lossy import code, safe_ceiling_dbtp
from advisor.mastering.streaming import normalised
from advisor.measuring.measure import Kinds, measure, measure_again
from advisor.measuring.measured import Failure, Measured
from advisor.report.build import build
from advisor.report_model.master_check import MasterReport
from advisor.report_model.parts import Verdict
from advisor.report_model.report import Report
from features.master_against_mix.comparison import Place, Readings, measure_mastering
from features.records.balance import Balance, Target
from features.records.ear import Ear
from features.records.elements import Elements
from features.records.file import File, Health
from features.records.hits import Hits
from features.records.level import Level
from features.records.low_end import LowEnd
from features.records.mastering import Mastered, Normalised, Release
from features.records.sections import Sections
from features.records.spectrum import Spectrum
from features.records.stereo import Stereo
from features.sound.load import Opened, open_source
from rules.base import Rule, all_rules

NOT_FOR_MASTERS = frozenset(
    {
        "delivery/true_peak_overs",  # the same peak against full scale; a master is held to its ceiling
        "delivery/effective_bit_depth",  # a release may well have 16 bits
    }
)
# What the comparison reads, in the order of making: an optional input is only there when it stands before what takes it.
COMPARED: Kinds = (Level, Hits, LowEnd, Spectrum, Ear, Stereo)
OF_A_STRETCH: Kinds = (*COMPARED, Sections)
OF_THE_MIX: Kinds = (Sections, *COMPARED, Health)
LITTLE_LU = 0.5


@dataclass(frozen=True, slots=True)
class Checked:
    """A checked master: its report, and what was judged."""

    report: MasterReport
    judged: Judged


def check_master(master: Path, mix: Path | None, settings: Settings, progress: Progress, first_words: str = "") -> Checked:
    """Check a master.

    Raises `RequestError` or `LoadError` with one plain sentence.
    """
    with ExitStack() as stack:
        progress.step(f"Opening {master.name}")
        opened = stack.enter_context(open_source(master))
        before = None if mix is None else stack.enter_context(open_source(mix))
        if first_words:
            progress.announce(first_words)
        shared = None
        if before is not None:
            progress.step("Looking for the mix in the master")
            shared = share(before.source, opened.source, (before.file.name, opened.file.name))
        measured = measured_file(opened, settings, progress)
        notes = (*opened.notes, *_doubts(opened, measured))
        if before is not None and shared is not None:
            measured = _against(before, shared, measured, settings, progress)
            notes = (*notes, *before.notes, *shared.notes)
        measured = _released(opened, measured, settings, progress)
        progress.step("Judging")
        judged = judge(measured, yardstick_of(settings), master_rules())
        report = build(measured, judged, verdict(measured, judged), settings, notes)
    progress.step("")
    return Checked(_master_report(report, measured, None if before is None else before.file.name), judged)


def master_rules() -> tuple[Rule, ...]:
    """Return the rules that a finished master is held to.

    Those of mastering, and of the file itself.
    """
    return tuple(
        rule
        for rule in all_rules()
        if rule.stage == "mastering" or (rule.stage == "delivery" and Elements not in rule.looks_at and rule.id not in NOT_FOR_MASTERS)
    )


def measured_file(opened: Opened, settings: Settings, progress: Progress, wanted: Kinds | None = None) -> Measured:
    """Measure a whole file, or only what is ``wanted``."""
    return measure(opened.source, opened.file, lambda: opened.not_finite, yardstick_of(settings), progress, wanted)


def _doubts(opened: Opened, measured: Measured) -> tuple[str, ...]:
    """Return what a second loudness meter has against ours."""
    level = measured.records.get(Level)
    doubt = loudness_doubt(opened.source, level.integrated_lufs) if isinstance(level, Level) else None
    return () if doubt is None else (doubt,)


def _against(before: Opened, shared: Shared, measured: Measured, settings: Settings, progress: Progress) -> Measured:
    """Add what mastering did.

    A crash in here costs the comparison, not the check for release.
    """
    whole_mix = measured_file(before, settings, progress, OF_THE_MIX)
    try:
        progress.step("Comparing master and mix")
        record = compared(shared, whole_mix, measured, settings, progress)
    except RequestError:
        raise
    except Exception as error:  # noqa: BLE001 - told in the report
        return replace(measured, failures=(*measured.failures, Failure("mastered", f"{type(error).__name__}: {error}")))
    return replace(measured, records={**measured.records, Mastered: record})


def compared(shared: Shared, mix: Measured, master: Measured, settings: Settings, progress: Progress) -> Mastered:
    """Return what mastering did to a mix.

    ``mix`` and ``master`` are what was measured on both whole files.
    """
    yardstick = yardstick_of(settings)
    of_mix = mix if shared.mix.whole else measure_again(shared.mix, yardstick, progress, OF_A_STRETCH)
    of_master = master if shared.master.whole and shared.mix.whole else measure_again(shared.master, yardstick, progress, OF_A_STRETCH)
    health = _record(mix, Health)
    if of_mix.trace is None:
        raise RequestError("The mix could not be measured per millisecond, so it cannot be compared; try a longer bounce.")
    place = Place(
        shared.offset_s,
        shared.start_s,
        max(shared.start_s - health.head_silence_s, 0.0),
        max(_record(mix, File).duration_s - shared.end_s - health.tail_silence_s, 0.0),
    )
    return measure_mastering(
        shared.mix, shared.master, _readings(of_mix), _readings(of_master), of_mix.trace.steps, _record(of_mix, Sections).densest, place,
        (health, _record(master, Health)),
    )  # fmt: skip


def _record(measured: Measured, kind: type[Any]) -> Any:  # noqa: ANN401 - the caller names the kind
    return measured.records[kind]


def _readings(measured: Measured) -> Readings:
    return Readings(*(_record(measured, kind) for kind in (Level, Spectrum, Ear, Stereo, Hits, LowEnd)))


def _released(opened: Opened, measured: Measured, settings: Settings, progress: Progress) -> Measured:
    """Add the lossy check and the streaming view."""
    level, sections = measured.records.get(Level), measured.records.get(Sections)
    if not isinstance(level, Level) or level.true_peak_dbtp is None:
        return replace(measured, records={**measured.records, Release: Release(settings.ceiling_dbtp, (), 0.0, None, ())})
    progress.step("Encoding and decoding")
    densest = sections.densest if isinstance(sections, Sections) else None
    try:
        coded, length_s = code(opened.source, densest, level.true_peak_dbtp)
    except OSError as error:
        raise RequestError(
            f"There is no room to try lossy formats ({error.strerror or error}). Free some space for temporary files."
        ) from error
    views: tuple[Normalised, ...] = ()
    if level.integrated_lufs is not None:
        views = normalised(level.integrated_lufs, level.true_peak_dbtp, level.psr_densest_db, settings.streaming_lufs)
    record = Release(settings.ceiling_dbtp, coded, length_s, safe_ceiling_dbtp(coded, level.true_peak_dbtp), views)
    return replace(measured, records={**measured.records, Release: record})


def verdict(measured: Measured, judged: Judged) -> Verdict:
    """Put gain and cost of mastering into a sentence."""
    health, mastered = measured.records.get(Health), measured.records.get(Mastered)
    if isinstance(health, Health) and health.silent:
        return Verdict(ready=False, sentence="There is nothing to judge: the file is silent.")
    clear = [card for card in judged.cards if card.is_clear]
    won = _won(mastered) if isinstance(mastered, Mastered) else ""
    if not clear:
        rest = "nothing that mastering cost passes what is heard" if won else "nothing in the file speaks against its release"
        doubts = f"; {len(judged.cards)} smaller remark{'s' if len(judged.cards) > 1 else ''} below" if judged.cards else ""
        return Verdict(ready=True, sentence=_capital(f"{won}{', and ' if won else ''}{rest}{doubts}."))
    things = _titles(clear)
    if won:
        return Verdict(ready=False, sentence=_capital(f"{won}; to look at before release: {things}."))
    return Verdict(ready=False, sentence=f"Not ready for release: {things}.")


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]


def _titles(cards: Sequence[Card]) -> str:
    titles = [card.finding.title or card.rule.title for card in cards[:3]]
    words = "; ".join(title[:1].lower() + title[1:] for title in titles)
    more = len(cards) - len(titles)
    return f"{words}; and {more} more" if more else words


def _won(mastered: Mastered) -> str:
    if mastered.louder_lu is None or mastered.won_lu is None:
        return ""
    direction = "louder" if mastered.louder_lu >= 0 else "quieter"
    if mastered.won_lu < LITTLE_LU:
        return f"the master is {abs(mastered.louder_lu):.1f} LU {direction} than the mix by level alone"
    return (
        f"the master is {abs(mastered.louder_lu):.1f} LU {direction} than the mix, {mastered.won_lu:.1f} LU of loudness won at equal peaks"
    )


def _master_report(report: Report, measured: Measured, mix: str | None) -> MasterReport:
    mastered, release = measured.records.get(Mastered), measured.records.get(Release)
    return MasterReport(
        tool=report.tool,
        settings=report.settings,
        notes=report.notes,
        verdict=report.verdict,
        findings=report.findings,
        passed=report.passed,
        passed_cards=report.passed_cards,
        not_applicable=report.not_applicable,
        failed=report.failed,
        master=report.mix,
        mix=mix,
        measurements=report.measurements.without(Mastered, Release, Target, Balance),
        mastered=mastered if isinstance(mastered, Mastered) else None,
        release=release if isinstance(release, Release) else None,
    )
