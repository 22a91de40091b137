"""Lows that are opposed in left and right."""

import pytest

from features.records.ear import Elsewhere
from rules.base import Finding
from rules.mixing.translation import low_end_cancels_in_mono
from tests import records
from tests.rule_cases import found, reason

LIMITS = low_end_cancels_in_mono.Limits()


def lost(loss_db: float, share: float = 0.2) -> Elsewhere:
    bass = records.element_elsewhere("bass", low_lost_share=share)
    return records.elsewhere(*(records.song_elsewhere(key, bass, low_mono_loss_db=loss_db) for key in ("phone", "kitchen")))


def fired(loss_db: float = 12.0, share: float = 0.9) -> Finding:
    return found(low_end_cancels_in_mono.check(lost(loss_db, share), records.stereo(), LIMITS))


def test_fires_with_the_loss_and_the_element_that_loses_most() -> None:
    finding = fired()
    assert finding.stem == "bass"
    assert finding.numbers["what"] == "the song"
    assert finding.excess == 2.0
    assert finding.band_hz == (20.0, 120.0)


def test_fires_where_an_element_loses_its_lows_and_others_hold_the_song() -> None:
    bass = records.element_elsewhere("bass", low_lost_share=0.9, low_mono_loss_db=12.0)
    finding = found(
        low_end_cancels_in_mono.check(
            records.elsewhere(records.song_elsewhere("phone", bass, low_mono_loss_db=1.0)), records.stereo(), LIMITS
        )
    )
    assert (finding.stem, finding.numbers["what"]) == ("bass", "'bass'")


def test_quiet_about_the_lows_of_an_element_that_plays_little() -> None:
    bass = records.element_elsewhere("bass", low_lost_share=0.9, low_mono_loss_db=12.0, main=False)
    song = records.elsewhere(records.song_elsewhere("phone", bass, low_mono_loss_db=1.0))
    assert low_end_cancels_in_mono.check(song, records.stereo(), LIMITS) is None


def test_quiet_about_the_lows_of_an_element_that_the_songs_lows_are_not_made_of() -> None:
    lead = records.element_elsewhere("lead", low_lost_share=0.9, low_mono_loss_db=20.0)
    song = records.elsewhere(records.song_elsewhere("phone", lead, low_mono_loss_db=0.1))
    assert low_end_cancels_in_mono.check(song, records.stereo(), LIMITS) is None


def test_fires_without_a_name_where_no_element_loses_most() -> None:
    assert fired(share=0.2).stem is None


@pytest.mark.parametrize(("loss_db", "confidence"), [(7.0, "medium"), (11.0, "high")])
def test_fires_the_surer_the_more_is_lost(loss_db: float, confidence: str) -> None:
    assert fired(loss_db).confidence == confidence


def test_quiet_about_the_little_that_mono_usually_takes() -> None:
    assert low_end_cancels_in_mono.check(lost(1.0), records.stereo(), LIMITS) is None


def test_quiet_where_a_whole_channel_is_upside_down() -> None:
    assert low_end_cancels_in_mono.check(lost(20.0), records.stereo(polarity_inverted=True), LIMITS) is None


def test_not_applicable_where_no_place_in_mono_was_chosen() -> None:
    laptop = Elsewhere(0, (records.song_elsewhere("laptop"),))
    assert "mono" in reason(low_end_cancels_in_mono.check(laptop, records.stereo(), LIMITS))
