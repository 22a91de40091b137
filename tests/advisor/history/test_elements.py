"""Bounce against bounce, element against element: faders to 0.1 dB, renamed stems, what is heard since, steps done and undone."""

import sqlite3
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from advisor.app.finding_key import FindingKey
from advisor.history import store
from advisor.history.elements import ComparedElements, compare_elements
from advisor.history.followed import FollowedMove
from advisor.history.promised import Promise
from advisor.history.story import warnings
from advisor.judging.finding_records import FindingChange
from advisor.report.element_words import element_lines
from advisor.report_model.history import ElementChange
from advisor.report_model.report import Report
from advisor.store import migrations
from advisor.store.database import FILE_NAME, open_database
from features.elements.fingerprint import Fingerprint, fingerprint_of
from features.elements.meter import trace_of
from features.processors.placement.pan import pan
from features.records.base import Span
from features.records.elements import Cover, Element
from features.sound.signal import Samples, Signal
from rules.remedy import Remedy
from tests import records, signals
from tests.advisor.history.bounces import bounce, found, planned, recorder
from tests.advisor.samples import rule_that
from tests.sounds import stem_song

RATE_HZ = stem_song.RATE_HZ
STEMS = {name: sound for name, sound in stem_song.stems().items() if name in ("kick", "snare", "pad", "vox")}


def prints(**sounds: Samples) -> tuple[Fingerprint, ...]:
    """Return what is kept of the song's elements, some of them changed."""
    whole = {**STEMS, **sounds}
    return tuple(fingerprint_of(name, trace_of(Signal(sound, RATE_HZ))) for name, sound in whole.items() if sound is not None)


def at(name: str, gain_db: float) -> Samples:
    """Return an element with its fader moved."""
    return np.asarray(STEMS[name] * np.float32(signals.amplitude(gain_db)), np.float32)


def stem(name: str, heard: float, covered_by: str | None = None) -> Element:
    cover = (Cover(covered_by, 0.3, (200.0, 800.0), 0.8, 3.0, False, Span(0.0, 1.0)),) if covered_by else ()  # noqa: FBT003
    change_of_element = records.element(name)
    return replace(change_of_element, masking=replace(change_of_element.masking, audible_share=heard, covered_by=cover))


def song(take: int, pad_heard: float = 0.5, *moves: Remedy) -> Report:
    """Return the report of a bounce with four elements, the pad covered by the snare."""
    elements = (stem("kick", 0.8), stem("snare", 0.9), stem("pad", pad_heard, "snare"), stem("vox", 0.7))
    report = replace(bounce(take, ("one", found(1.0))), stems=elements)
    for move in moves:
        report = planned(report, "mixing/one", move)
    return report


BEFORE = prints()
DOWN = Remedy("gain", "snare", gain_db=-6.0)


def compared(after: tuple[Fingerprint, ...], pad_heard: float = 0.5) -> ComparedElements:
    made = compare_elements(BEFORE, after, song(1), song(2, pad_heard))
    assert made is not None
    return made


def change(elements: ComparedElements, name: str) -> ElementChange:
    return next(change_of_element for change_of_element in elements.changes if name in (change_of_element.name, change_of_element.was))


def test_a_fader_is_told_and_the_others_are_untouched() -> None:
    made = compared(prints(snare=at("snare", -6.0)))
    assert change(made, "snare").fader_db == pytest.approx(-6.0, abs=0.05)
    assert made.untouched == {"kick", "pad", "vox"}


def test_the_level_of_the_whole_mix_is_nobodys_move() -> None:
    whole = {name: at(name, -3.0) for name in STEMS}
    made = compared(prints(**{**whole, "vox": at("vox", 1.0)}))
    assert change(made, "vox").fader_db == pytest.approx(4.0, abs=0.05)
    assert made.untouched == {"kick", "snare", "pad"}


def test_what_is_heard_since_a_fader_moved_is_told_of_that_fader() -> None:
    made = compared(prints(snare=at("snare", -6.0)), pad_heard=0.62)
    assert change(made, "pad").since == "snare"
    words = list(element_lines(made.changes))
    assert words == [
        "'snare': down 6.0 dB",
        "'pad': untouched; clearer since 'snare' went down (62% of it is heard, was 50%)",
        "Untouched: 'kick', 'vox'",
    ]


def test_a_fader_that_went_the_other_way_explains_nothing() -> None:
    assert change(compared(prints(snare=at("snare", 6.0)), pad_heard=0.62), "pad").since is None


def test_pan_new_gone_and_renamed() -> None:
    after = [
        replace(change_of_element, name="warm") if change_of_element.name == "pad" else change_of_element
        for change_of_element in prints(vox=pan(Signal(STEMS["vox"], RATE_HZ), 6.0).samples)
    ]
    extra = fingerprint_of("clap", trace_of(Signal(stem_song.stems()["hats"], RATE_HZ)))
    made = compared((*[change_of_element for change_of_element in after if change_of_element.name != "kick"], extra))
    words = set(element_lines(made.changes))
    assert {"'vox': panned 6.0 dB to the right", "'kick': not among the stems any more", "'clap': new"} <= words
    assert change(made, "pad").name == "warm"
    assert any("'warm' (was 'pad')" in line for line in words)


def test_another_performance_gives_no_fader() -> None:
    made = compared(prints(pad=stem_song.stems()["pluck"]))
    assert change(made, "pad").state in ("replaced", "gone")


def test_without_the_stems_of_both_nothing_is_compared() -> None:
    assert compare_elements((), BEFORE, song(1), song(2)) is None


def kept(folder: Path, report: Report, elements: tuple[Fingerprint, ...]) -> Report:
    with recorder(folder).recording(report, (), elements) as whole:
        return whole


def test_a_step_done_to_the_letter_reads_done_and_taken_back_later_undone(tmp_path: Path) -> None:
    kept(tmp_path, song(1, 0.5, DOWN), BEFORE)
    second = kept(tmp_path, song(2, 0.62), prints(snare=at("snare", -6.0)))
    assert second.history is not None
    (step,) = second.history.steps
    assert (step.verdict, step.sure, step.reading) == ("done", "high", "the level of its own stem")
    assert step.measured == pytest.approx(-6.0, abs=0.05)
    assert second.history.undone == ()
    third = kept(tmp_path, song(3, 0.5), BEFORE)
    assert third.history is not None
    (taken_back,) = third.history.undone
    assert (taken_back.bounce, taken_back.element, taken_back.since_db) == (2, "snare", 6.0)


@pytest.mark.parametrize(
    ("made_db", "verdict"), [(-6.0, "done"), (-2.5, "partly"), (-12.0, "overdone"), (0.0, "not done"), (3.0, "not done")]
)
def test_steps_are_judged_on_the_element_itself(tmp_path: Path, made_db: float, verdict: str) -> None:
    kept(tmp_path, song(1, 0.5, DOWN), BEFORE)
    history = kept(tmp_path, song(2), prints(snare=at("snare", made_db))).history
    assert history is not None
    assert history.steps[0].verdict == verdict


def test_a_pan_is_judged_on_the_element_itself(tmp_path: Path) -> None:
    kept(tmp_path, song(1, 0.5, Remedy("pan", "vox", gain_db=4.0)), BEFORE)
    history = kept(tmp_path, song(2), prints(vox=pan(Signal(STEMS["vox"], RATE_HZ), 4.0).samples)).history
    assert history is not None
    assert (history.steps[0].verdict, history.steps[0].unit) == ("done", "dB")


def test_an_untouched_neighbour_is_nobodys_fault() -> None:
    key = FindingKey("mixing/one", "pad")
    change = FindingChange(key, "Title of one", "worse", 1.0, 3.0, 1)
    later = bounce(2, replace(rule_that(found(3.0, stem="pad")), topic="balance"))
    move = FollowedMove(Promise(1, "Down", "Move it", DOWN, FindingKey("mixing/other"), 1.0), "done", "high", "measured directly")
    assert [change_of_element.title for change_of_element in warnings([move], [change], bounce(1), later)] == ["Title of one"]
    assert warnings([move], [change], bounce(1), later, untouched=frozenset({"pad"})) == ()


def test_what_is_kept_are_numbers_and_they_come_back(tmp_path: Path) -> None:
    kept(tmp_path, song(1), BEFORE)
    with open_database(tmp_path) as opened, opened.reading() as read:
        (last,) = store.bounces(read, store.find(read, "Harbour"))
        assert store.prints_of(read, last) == BEFORE
        assert read.execute("SELECT max(length(readings)) FROM elements").fetchone()[0] < 4000


def test_a_file_of_the_version_before_gets_the_new_table(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    with monkeypatch.context() as older:
        older.setattr("advisor.store.database.STEPS", migrations.STEPS[:2])
        open_database(tmp_path).close()
    with sqlite3.connect(tmp_path / FILE_NAME) as raw:
        assert raw.execute("PRAGMA user_version").fetchone() == (2,)
    kept(tmp_path, song(1), BEFORE)
    assert kept(tmp_path, song(2), BEFORE).history is not None
