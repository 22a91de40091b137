"""Who covers whom, from files to findings: the pair, the band and the direction are right, and what lies elsewhere is not accused."""

from pathlib import Path

import numpy as np
import pytest

from advisor.app.progress import Quiet
from advisor.app.settings import Settings
from advisor.app.yardstick import yardstick_of
from advisor.judging.judge import judge
from advisor.measuring.measured import Measured
from advisor.stems.folder import open_stems
from advisor.stems.measuring import elements_of, trace_song
from features.records.elements import Elements
from features.sound.signal import Samples
from rules.base import Finding, all_rules
from tests import signals
from tests.sounds.stem_song import write

SECONDS = 10.0
RATE_HZ = signals.RATE_HZ
RULES = tuple(rule for rule in all_rules() if rule.looks_at == (Elements,))
PAIR_RULES = {"mixing/element_covered", "mixing/bass_hides_kick", "mixing/kick_and_bass_in_one_slot", "mixing/element_inaudible"}


def found_in(folder: Path, stems: dict[str, Samples]) -> list[tuple[str, Finding]]:
    """Return what the rules about elements find in a folder of stems."""
    with open_stems(write(folder, stems), None, Quiet()) as opened:
        elements = elements_of(opened, trace_song(opened, opened.sum_source, Quiet()), {}, lambda _: None)
    result = judge(Measured({Elements: elements}, ()), yardstick_of(Settings()), RULES)
    assert not result.failed
    return [(rule.id, its) for card in result.cards for rule, its in ((card.rule, card.finding), *card.also)]


def band(low_hz: float, high_hz: float, rms_dbfs: float, seed: int) -> Samples:
    return signals.stereo(signals.pink_wave(SECONDS, RATE_HZ, rms_dbfs, seed, low_hz, high_hz, 0.0))


def kicks() -> Samples:
    return signals.mono(0.6 * signals.placed(signals.kick_wave(RATE_HZ), signals.beat_times(SECONDS, 120.0), SECONDS, RATE_HZ))


def test_of_two_pads_that_overlap_the_covered_one_is_told_with_its_cover_and_band_and_a_third_is_left_alone(tmp_path: Path) -> None:
    stems = {"strings pad": band(600, 1400, -31, 1), "warm pad": band(500, 2800, -20, 2), "hats": band(8000, 12000, -30, 3)}
    findings = {name: finding for name, finding in found_in(tmp_path / "stems", stems) if name in PAIR_RULES}
    finding = next(iter(findings.values()))
    assert {finding.stem for finding in findings.values()} == {"strings pad"}
    assert "warm pad" in str(finding.numbers)
    assert "hats" not in str(finding.numbers)
    for remedy in (finding.remedy, *finding.others):
        assert remedy is not None
        if remedy.kind == "gain":
            assert remedy.gain_db is not None
            assert (remedy.gain_db > 0.0) == (remedy.part == "strings pad"), "up with what is covered, down with what covers"
    if finding.band_hz is not None:
        assert 450 < finding.band_hz[0] < finding.band_hz[1] < 1700


@pytest.mark.parametrize("swapped", [False, True])
def test_the_direction_turns_with_the_levels(tmp_path: Path, *, swapped: bool) -> None:
    levels = (-20, -33) if swapped else (-33, -20)
    stems = {"strings pad": band(600, 1500, levels[0], 1), "warm pad": band(600, 1500, levels[1], 2), "hats": band(8000, 12000, -30, 3)}
    stems["keys"] = band(3000, 5000, -28, 4)
    covered = {finding.stem for name, finding in found_in(tmp_path / "stems", stems) if name in PAIR_RULES}
    assert covered == {"warm pad" if swapped else "strings pad"}


def test_a_bass_away_from_the_kick_is_not_accused_and_one_on_it_is(tmp_path: Path) -> None:
    others = {"kick": kicks(), "keys": band(1500, 4000, -28, 5)}
    away = found_in(tmp_path / "away", {**others, "bass": band(250, 700, -24, 4)})
    assert not [name for name, finding in away if name in PAIR_RULES | {"mixing/kick_against_bass"} and finding.stem in {"kick", "bass"}]
    near = found_in(
        tmp_path / "near", {"kick": np.asarray(0.2 * kicks(), np.float32), "keys": others["keys"], "bass": band(40, 110, -18, 4)}
    )
    accusing = [finding for name, finding in near if name in PAIR_RULES | {"mixing/element_too_loud", "mixing/element_too_quiet"}]
    assert {finding.stem for finding in accusing} & {"kick", "bass"}
