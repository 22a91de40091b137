"""The mastering section of report.md: target reached, out of reach, or no limiting needed; and the verdict on masters."""

from dataclasses import replace
from typing import Any

from advisor.judging.judge import Card, Judged
from advisor.master_check.check import master_rules, verdict
from advisor.mastering.streaming import normalised
from advisor.measuring.measured import Measured
from advisor.report.filling import filled
from advisor.report.sections.critique.song.mastering import section, tone_words
from advisor.report.streaming import streaming_words
from advisor.report_model.mastering import (
    ChainDamage,
    ChainResult,
    ChainSettings,
    GlueSettings,
    LimiterSettings,
    MasteringMove,
    MasteringSection,
    SetResult,
    ToneDifference,
    WorthMost,
)
from advisor.report_model.report import Report
from features.records.base import Span
from features.records.mastering import Mastered, ToneChange
from tests import mastering_records, records
from tests.advisor import samples
from tests.advisor.report.test_plan_text import step_of
from tests.advisor.samples import finding, rule_that

QUIET = ToneDifference(0.1, 0.0, 0.0, (), heard=False)
BRIGHT = ToneDifference(0.8, 0.1, 0.0, (ToneChange(6000.0, 12000.0, 8000.0, 0.9),), heard=True)


def reached(lufs: float = -13.0, pumping: float = 0.4, *, clean: bool = True) -> ChainResult:
    shares = {"distortion": 0.2, "pumping": pumping, "hits": 0.1, "density": 0.4}
    return ChainResult(lufs, 4.0, ChainDamage(-12.0, pumping, 0.3, 0.8, 11.0, clean, "pumping", shares))


LIMITER = LimiterSettings(7.0, 4.0, 40.0, -1.0)


def chain(**changed: Any) -> ChainSettings:  # noqa: ANN401 - any part of it
    return replace(ChainSettings(None, None, LIMITER, 1.0, -0.2), **changed)


GLUE = GlueSettings(-14.0, 2.0, 2.0, 30.0, 100.0, 6.0)


def report(**changed: Any) -> Report:  # noqa: ANN401 - any part of it
    moves = (
        MasteringMove("release", kept=True, chain=chain(), before=reached(), after=reached(pumping=0.3), tone=QUIET),
        MasteringMove("glue", kept=False, chain=chain(glue=GLUE), before=reached(), after=reached(pumping=0.7), tone=QUIET),
        MasteringMove("waveshaper", kept=True, chain=chain(), before=reached(), after=reached(), tone=BRIGHT),
    )
    stage = MasteringSection(
        after_plan=True, target_lufs=-13.0, stretch=Span(60.0, 72.0), reaches_target=True,
        reaches_cleanly=True, clean_lufs=-12.0, clean=SetResult(-12.0, 4.0, reached().damage, chain()),
        limiter_tone=QUIET, worth_most=None, chain=chain(), reached=reached(), tone=QUIET,
        glue_dbfs={"2": -14.0, "4": -12.5}, moves=moves, one_lu_more=reached(-12.0, 1.2, clean=False), as_it_is=None,
        streaming=(), preview=None,
    )  # fmt: skip
    step = replace(step_of(1, "mixing/a"), title="Too much around 290 Hz")
    return replace(samples.report(), mastering=replace(stage, **changed), plan=(step,))


def text(**changed: Any) -> str:  # noqa: ANN401 - any part of it
    return "\n".join(section(report(**changed)))


def test_a_chain_is_told_in_order_with_its_numbers() -> None:
    words = text()
    assert (
        words.index("1. **Limiter:** gain 7.0 dB")
        < words.index("2. **Waveshaper after the limiter:**")
        < words.index("3. **Trim:** -0.2 dB")
    )
    assert "as the plan leaves it" in words
    assert "| (glue at -14.0 dBFS, 2:1: left out) |" in words
    assert "Glue compression was left out: pumping would use 70% of its limit instead of 40%." in words
    assert "-14.0 dBFS at 2:1 or -12.5 dBFS at 4:1" in words


def test_a_quick_release_is_to_be_checked_by_ear() -> None:
    quick = chain(limiter=replace(LIMITER, release_ms=10.0))
    assert "if the bass turns rough" in text(chain=quick)
    assert "if the bass turns rough" not in text()


def test_a_brighter_step_asks_to_listen() -> None:
    assert "0.8 dB brighter above 5 kHz, most around 8 kHz (+0.9 dB): listen before you keep it." in text()
    assert tone_words(BRIGHT).startswith("0.8 dB brighter above 5 kHz")


def test_the_next_lu_is_priced() -> None:
    words = text()
    assert "The next 1 LU (-12.0 LUFS) takes 0.0 dB more gain, audible: pumping 40% to 120% of its limit" in words


def test_out_of_reach_names_the_loudest_clean_level_and_the_step_worth_most() -> None:
    best = WorthMost(1, 1.3)
    words = text(reaches_cleanly=False, clean_lufs=-14.2, worth_most=best, reached=reached(pumping=1.4, clean=False))
    assert "out of reach cleanly" in words
    assert "or master to -14.2 LUFS, with the limiter's gain at 7.0 dB" in words
    assert "step 1 of the plan, too much around 290 Hz: it is worth 1.3 LU" in words
    assert "No step of the plan" in text(reaches_cleanly=False)


def test_no_limiting_is_told_as_gain_alone() -> None:
    quiet = replace(reached(), drive_db=-2.0)
    words = text(reached=quiet, moves=(), one_lu_more=None)
    assert "No limiting is needed: turned up by 7.0 dB" in words
    assert "Waveshaper" not in words


def test_without_a_stage_there_is_no_section() -> None:
    assert list(section(samples.report())) == []


def test_streaming_says_what_is_turned_down_and_what_cannot_be_turned_up() -> None:
    loud = normalised(-9.0, -0.5, 7.0, (-14.0, -16.0))
    words = "\n".join(filled("streaming", streaming=streaming_words(loud)))
    assert "| -14 LUFS | turned down by 5.0 dB | -14.0 LUFS | -5.5 dBTP | 7.0 dB |" in words
    soft = normalised(-18.0, -2.0, 14.0, (-14.0,))
    assert soft[0].gain_db == 1.0
    assert "Turning up ends" in "\n".join(filled("streaming", streaming=streaming_words(soft)))


def judged(*cards: Card) -> Judged:
    return Judged(cards, (), (), ())


def test_the_verdict_on_a_master_says_what_was_won_and_what_to_look_at() -> None:
    measured = Measured({Mastered: mastering_records.mastered(), type(records.health()): records.health()}, ())
    clean = verdict(measured, judged())
    assert clean.ready
    assert clean.sentence == (
        "The master is 4.0 LU louder than the mix, 3.0 LU of loudness won at equal peaks, "
        "and nothing that mastering cost passes what is heard."
    )
    faulty = verdict(measured, judged(Card(rule_that(None, stage="mastering"), finding())))
    assert not faulty.ready
    assert faulty.sentence.endswith("to look at before release: title of one.")


def test_a_master_is_held_to_the_rules_of_mastering_and_of_the_file() -> None:
    names = {rule.id for rule in master_rules()}
    assert {"mastering/hits_lost", "mastering/coded_overs", "delivery/cut_tail"} <= names
    assert not {name for name in names if name.startswith("mixing/")}
    assert not names & {"delivery/true_peak_overs", "delivery/copied_stem"}
