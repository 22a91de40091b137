"""What the report says of other places."""

from dataclasses import replace

from advisor.elsewhere.clips import ElsewhereClip
from advisor.elsewhere.section import listening_places
from advisor.report.markdown import details, render
from advisor.report.page.sounds import sounds_of
from advisor.report_model.codec import from_json, to_json
from advisor.report_model.report import Report
from features.records.ear import Elsewhere
from rules.base import all_rules
from tests import records
from tests.advisor.samples import report

CLIPS = tuple(ElsewhereClip(key, f"audition/elsewhere/{key}.flac", 10.0, 22.0, -20.0) for key in ("desk", "phone"))


def written(measured: Elsewhere | None = None) -> Report:
    places = listening_places({Elsewhere: measured or records.elsewhere()}, CLIPS)
    return replace(report(), elsewhere=places)


def test_every_condition_stands_in_the_table_of_the_details() -> None:
    text = details(written())
    assert "| phone | -6.0 LU (usually -6.0) | 80% (usually 80%) | 60% | 0.2 dB |" in text
    assert all(f"| {key} |" in text for key in records.ORDINARY_PLACES)
    assert "| phone |" not in render(written())


def test_one_line_says_that_nothing_stands_out() -> None:
    assert "The song stays as loud as your references do in every place that was looked at." in render(written())


def test_a_song_that_is_softer_there_than_others_is_said_to_be() -> None:
    soft = records.elsewhere(records.song_elsewhere("phone", loudness_lu=-10.0))
    assert "Softer than your references on a phone (4.0 LU)." in render(written(soft))


def test_the_findings_about_other_places_are_named() -> None:
    rule = next(rule for rule in all_rules() if rule.id == "mixing/low_end_cancels_in_mono")
    lost = records.elsewhere(records.song_elsewhere("phone", low_mono_loss_db=15.0))
    judged = report(rule, elsewhere=lost)
    text = render(replace(judged, elsewhere=listening_places({Elsewhere: lost})))
    assert "What it loses on the way: low end cancels in mono" in text


def test_a_place_and_the_desk_make_one_player() -> None:
    sound = sounds_of(written())["audition/elsewhere/phone.flac"]
    assert sound.files == (("audition/elsewhere/phone.flac", "There"), ("audition/elsewhere/desk.flac", "At the desk"))
    assert (sound.place.start_s, sound.place.end_s) == (10.0, 22.0)


def test_it_reads_back_as_it_was_written() -> None:
    made = written()
    assert from_json(Report, to_json(made)).elsewhere == made.elsewhere


def test_nothing_is_said_where_nothing_was_chosen() -> None:
    assert listening_places({Elsewhere: Elsewhere(0, ())}) is None
    assert "## Elsewhere" not in render(replace(report(), elsewhere=None))
