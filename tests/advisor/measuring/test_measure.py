"""A song is measured for what is asked, and a family that crashes leaves the others whole."""

from dataclasses import dataclass, replace

import pytest

from advisor.app.progress import Quiet
from advisor.app.settings import Settings
from advisor.app.yardstick import yardstick_of
from advisor.mastering.brightness import tone_of
from advisor.measuring import measure as measuring
from advisor.measuring import resolver as resolving
from advisor.measuring.measure import EXCERPT, WHOLE_SONG, measure, measure_again, measure_excerpt
from advisor.measuring.measured import Failure, Measured
from features.hits.audibility import HitMeter
from features.limiting.outlook import OutlookMeter
from features.loudness.level import LevelMeter
from features.records.base import Measurement
from features.records.file import File, Health
from features.records.headline import Headline
from features.records.hits import Hits, Pulses, Pumping
from features.records.low_end import LowEnd
from features.records.outlook import Outlook
from features.records.sections import Sections
from features.sound.measurement import Declared, declaration_of, declared_in
from features.sound.signal import Samples, Signal, Source
from rules.base import all_rules
from tests import records, signals

SOUND = Signal(signals.drums(4.0) + signals.pink(4.0, rms_dbfs=-30.0), signals.RATE_HZ)


def whole(settings: Settings | None = None) -> Measured:
    return measure(SOUND, records.file(), lambda: 7, yardstick_of(settings or Settings()), Quiet())


def unheard(_meter: object, _block: Samples) -> None:
    raise ArithmeticError("not today")


def test_a_whole_song_has_every_record_in_the_reports_order() -> None:
    measured = whole()
    assert tuple(measured.records) == (File, *WHOLE_SONG, Outlook)
    assert measured.failures == ()
    assert measured.trace is not None
    health = measured.records[Health]
    assert isinstance(health, Health)
    assert health.not_finite == 7


def test_a_meter_that_crashes_costs_what_needs_its_trace_alone(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(HitMeter, "push", unheard)
    measured = whole()
    assert measured.failures == (Failure("hits", "ArithmeticError: not today"),)
    assert set(WHOLE_SONG) - set(measured.records) == {Hits, Pumping, Pulses, LowEnd, Headline}
    assert Outlook in measured.records


def test_an_excerpt_is_judged_without_the_song_and_its_outlook_is_of_all_of_it() -> None:
    measured = measure_excerpt(SOUND, yardstick_of(Settings()))
    assert set(measured.records) == {*EXCERPT, Outlook}
    outlook = measured.records[Outlook]
    assert isinstance(outlook, Outlook)
    assert (outlook.excerpt.start_s, outlook.excerpt.end_s) == (0.0, 4.0)
    assert outlook.fast_clean_lufs is None


def test_the_song_after_the_plan_is_measured_as_an_excerpt_is_and_has_its_sections() -> None:
    excerpt, again = (
        measure_excerpt(SOUND, yardstick_of(Settings())).records,
        measure_again(SOUND, yardstick_of(Settings()), Quiet()).records,
    )
    assert set(again) == {*EXCERPT, Sections, Outlook}
    assert [kind for kind in EXCERPT if again[kind] != excerpt[kind]] == []


def test_what_only_disabled_rules_look_at_is_not_measured_for_a_trial() -> None:
    about_pumping = frozenset(rule.id for rule in all_rules() if Pumping in rule.looks_at)
    assert about_pumping
    asked = measure_excerpt(SOUND, yardstick_of(Settings(disabled=about_pumping))).records
    assert set(EXCERPT) - set(asked) == {Pumping}


def test_tone_alone_feeds_no_other_meter(monkeypatch: pytest.MonkeyPatch) -> None:
    for meter in (HitMeter, LevelMeter, OutlookMeter):
        monkeypatch.setattr(meter, "push", unheard)
    tone = tone_of(SOUND.samples, SOUND.rate_hz)
    assert tone.spectrum.tilt_db_per_octave is not None
    assert tone.ear.share_2k_5k is not None


@dataclass(frozen=True, slots=True)
class Length(Measurement):
    frames: int


def test_a_record_that_only_a_rule_asks_for_is_measured(monkeypatch: pytest.MonkeyPatch) -> None:
    def measure_length(source: Source) -> Length:
        return Length(source.frames)

    known = declared_in("features")
    declared = Declared({**known.measurements, Length: declaration_of(measure_length)}, known.meters)
    asking = replace(next(rule for rule in all_rules() if rule.stage == "mixing"), looks_at=(Length,))
    for module in (measuring, resolving):
        monkeypatch.setattr(module, "declared_in", lambda _package: declared)
    monkeypatch.setattr(measuring, "all_rules", lambda: (asking,))
    for measured in (whole(), measure_excerpt(SOUND, yardstick_of(Settings())), measure_again(SOUND, yardstick_of(Settings()), Quiet())):
        assert measured.records[Length] == Length(SOUND.frames)
    assert Length not in whole(Settings(disabled=frozenset({asking.id}))).records
