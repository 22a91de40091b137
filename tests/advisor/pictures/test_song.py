"""Pictures of the song: what they show of its readings, and when there is nothing to show."""

from dataclasses import replace

from advisor.pictures.colours import AREA, MARK, SONG
from advisor.pictures.critique.song import hit_audibility, outlook, plan_steps, song_over_time, spectrum, width
from advisor.report_model.findings import ComparedReadings
from advisor.report_model.plan import PlanStep, StepOutcomes
from advisor.report_model.report import Report
from features.records.base import Span
from rules.remedy import Remedy
from tests import records
from tests.advisor.pictures.drawings import drawing, seen
from tests.advisor.samples import finding, report, rule_that

READINGS = ComparedReadings(0.0, None, None, None, None, None)


def step(place: int, room_lu: float, audibility: float | None) -> PlanStep:
    return PlanStep(
        step=place, stage="mixing", rule="mixing/one", stem=None, band_hz=None, title=f"Move {place}", confidence="high",
        remedy=Remedy("gain", "mix", gain_db=-1.0), move="Turn it down", stop="", careful=(), where=(), outlook_after_lufs=None,
        excess_after=0.0, before=READINGS, after=READINGS, benefit=1.0, outcomes=StepOutcomes(room_lu, audibility, 0.5, None, None, 0.4),
    )  # fmt: skip


def with_finding(*spans: Span, band: tuple[float, float] | None = None) -> Report:
    """Return the report with one finding that shows there."""
    return report(rule_that(replace(finding(1.0, band=band), where=spans)))


def test_outlook_marks_the_clean_loudness_the_target_and_what_stops_it() -> None:
    there = seen(outlook, report())
    assert "clean up to -12.0 LUFS" in there.words
    assert "target -13.0 LUFS" in there.words
    assert "Clean up to -12.0 LUFS, where the limiter starts to pump" in there.alternative
    assert "lies inside it" in there.caption
    assert there.marks[MARK] == 1  # one reading stops it, and one line says so


def test_outlook_says_when_the_target_lies_past_the_clean_range() -> None:
    past = records.outlook(target_lufs=-9.0, reaches_target=False, margin_lu=-3.0)
    assert "lies past it" in seen(outlook, report(outlook=past)).caption


def test_loudness_for_drive_is_drawn_only_where_it_decides() -> None:
    assert "no louder" not in seen(outlook, report()).words
    assert "no louder" in seen(outlook, report(outlook=records.outlook(stopped_by="density"))).words


def test_no_outlook_no_picture() -> None:
    assert drawing(outlook, replace(report(), outlook=None)) is None
    assert drawing(outlook, report(outlook=records.outlook(clean_lufs=None))) is None


def test_spectrum_names_what_leaves_the_usual_spread() -> None:
    off = tuple(7.5 if 900.0 < hz < 1100.0 else 0.0 for hz in records.BANDS_HZ)
    there = seen(spectrum, report(balance=records.balance(deviation_db=off)))
    assert "Outside the usual spread: 1 kHz +7.5 dB (usual spread 2.5 dB)." in there.alternative
    assert "shaded: your 8 references" in there.words
    assert there.marks[AREA] == 1


def test_spectrum_marks_the_bands_of_findings() -> None:
    there = seen(spectrum, with_finding(band=(200.0, 400.0)))
    assert "Title of one" in there.words
    assert "Title of one: 200 Hz to 400 Hz." in there.alternative
    assert there.marks[MARK] == 1
    assert seen(spectrum, report()).marks[MARK] == 0


def test_spectrum_without_its_target_is_not_drawn() -> None:
    assert drawing(spectrum, report(balance=records.balance(deviation_db=()))) is None


def test_time_shows_the_parts_and_where_findings_are() -> None:
    there = seen(song_over_time, with_finding(Span(61.0, 70.0), Span(120.0, 130.0)))
    assert there.marks[MARK] == 2
    assert "Title of one: 1:01-1:10, 2:00-2:10." in there.alternative
    assert "0:20-1:10 -19.0 LUFS" in there.alternative
    assert "-19.0" in there.words


def test_a_moment_is_wide_enough_to_be_seen() -> None:
    there = seen(song_over_time, with_finding(Span(61.0, 61.0)))
    bars = [path.get("d", "").split() for path in there.root.iter("path") if path.get("stroke") == MARK.variable]
    assert [float(d[4]) - float(d[1]) >= 2.0 for d in bars] == [True]


def test_a_finding_that_is_everywhere_has_no_row() -> None:
    assert seen(song_over_time, with_finding(Span(0.0, 200.0))).marks[MARK] == 0


def test_silence_and_a_moment_have_no_course() -> None:
    for values in ((None,) * 200, (-20.0,)):
        short = replace(records.level().short_term, values=values)
        assert drawing(song_over_time, report(level=records.level(short_term=short))) is None


def test_plan_adds_up_its_steps() -> None:
    there = seen(plan_steps, replace(report(), plan=(step(1, 0.5, 0.25), step(2, 1.0, None))))
    assert "+1.5 LU" in there.words
    assert "Together: room +1.5 LU, audibility +0.2 steps, tone +1.0 steps." in there.alternative
    assert "2. Move 2: room +1.0 LU" in there.alternative


def test_one_step_needs_no_picture() -> None:
    assert drawing(plan_steps, replace(report(), plan=(step(1, 0.5, 0.25),))) is None


def test_hits_count_the_covered() -> None:
    times = tuple(float(second) for second in range(100))
    shares = tuple(0.2 if 40 <= second < 60 else 0.9 for second in range(100))
    there = seen(hit_audibility, report(hits=records.hits(times_s=times, audible_share=shares)))
    assert "100 hits, 20 of them covered" in there.alternative
    assert "0:40 (5 of 5)" in there.alternative
    assert there.marks[MARK] == there.marks[SONG] == 1


def test_hits_that_are_all_clear_need_no_picture() -> None:
    assert drawing(hit_audibility, report()) is None


def test_width_is_that_of_the_octave() -> None:
    bands = len(records.BANDS_HZ)
    sides = tuple(None if hz < 200.0 else 0.0 if hz > 5000.0 else -12.0 for hz in records.BANDS_HZ)
    there = seen(width, report(stereo=records.stereo(band_side_db=sides, band_energy_share=(1.0 / bands,) * bands)))
    assert "1 kHz -12.0 dB" in there.alternative
    assert "8 kHz +0.0 dB" in there.alternative
    assert "63 Hz" not in there.alternative


def test_an_octave_weighs_its_thirds_by_their_energy() -> None:
    # Sides of +0 dB (half the energy) where all but nothing of the octave lies at -20 dB: 10 log10((1/101 + e/2) / (100/101 + e/2)).
    sides = tuple(0.0 if 750.0 < hz < 850.0 else -20.0 for hz in records.BANDS_HZ)
    energies = tuple(1e-6 if 750.0 < hz < 850.0 else 0.03 for hz in records.BANDS_HZ)
    assert "1 kHz -20.0 dB" in seen(width, report(stereo=records.stereo(band_side_db=sides, band_energy_share=energies))).alternative


def test_mono_has_no_width() -> None:
    sides = (-90.0,) * len(records.BANDS_HZ)
    assert drawing(width, report(stereo=records.stereo(band_side_db=sides))) is None
