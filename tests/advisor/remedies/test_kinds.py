"""A remedy kind is one module: it is found, complete, and all that the program asks of it comes from there."""

import re
import sys
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

import rules
from advisor.app.finding_key import FindingKey
from advisor.history.harm import may_have_caused
from advisor.history.promised import Promise
from advisor.planning.trials import candidates
from advisor.remedies import kinds
from advisor.remedies.amounts import CEILING, FIXED, THRESHOLD
from advisor.remedies.apply import apply
from advisor.remedies.discovery import all_kinds, kind_of
from advisor.remedies.wording import remedy_sentence
from advisor.report.build import reported_finding
from features.sound.signal import Signal
from rules.remedy import Remedy
from tests import signals
from tests.advisor.samples import finding, rule_that

HALVED = '''"""Halved: a kind that is made for a test."""

from advisor.remedies.amounts import GAIN
from advisor.remedies.kind import FollowUp, RemedyKind
from advisor.remedies.touched import everywhere
from features.processors.placement.gain import gain

KIND = RemedyKind(
    name="halved",
    process=lambda remedy: lambda sound: gain(sound, (remedy.gain_db or 0.0) / 2.0),
    sentence=lambda remedy: f"half of {remedy.gain_db:.1f} dB",
    effort=4.0,
    amount=GAIN,
    touches=everywhere("space"),
    followed_by=FollowUp("finding"),
)
'''


@pytest.fixture
def more_kinds(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> Iterator[Path]:
    monkeypatch.setattr(kinds, "__path__", [*kinds.__path__, str(tmp_path)])
    all_kinds.cache_clear()
    yield tmp_path
    all_kinds.cache_clear()
    for name in ("halved", "forgetful", "misnamed"):
        sys.modules.pop(f"{kinds.__name__}.{name}", None)


def test_every_module_of_the_folder_is_a_kind_of_its_name() -> None:
    modules = {path.stem for folder in kinds.__path__ for path in Path(folder).rglob("*.py") if path.stem != "__init__"}
    assert modules == set(all_kinds())


def test_effort_grows_from_faders_over_still_moves_to_dynamics_and_to_recording_again() -> None:
    every = all_kinds().values()
    faders = {kind.effort for kind in every if kind.is_fader}
    dynamics = {kind.effort for kind in every if kind.process is not None and kind.amount in (THRESHOLD, CEILING)}
    recording_again = {kind.effort for kind in every if kind.process is None}
    still = {kind.effort for kind in every if kind.process is not None and (kind.tone is not None or kind.amount == FIXED)}
    assert max(faders) <= min(still) <= max(still) < min(dynamics) <= max(dynamics) < min(recording_again)
    assert all(min(faders) <= kind.effort <= max(recording_again) for kind in every)


def test_a_new_kind_is_one_module(more_kinds: Path) -> None:
    (more_kinds / "halved.py").write_text(HALVED, encoding="utf-8")
    remedy = Remedy("halved", gain_db=-6.0)
    tone = Signal(signals.sine(1000.0, 1.0, 44100, -6.0), 44100)
    ratio = float(np.abs(apply(remedy, tone).samples).max() / np.abs(tone.samples).max())
    assert 20.0 * np.log10(ratio) == pytest.approx(-3.0, abs=0.01)
    assert remedy_sentence(remedy) == "Half of -6.0 dB"
    assert kind_of(remedy).effort == 4.0
    assert [amount.gain_db for amount in candidates(remedy)] == [-6.0, -3.0]
    move = Promise(1, "", "", remedy, FindingKey("mixing/other"), 1.0)
    narrow = reported_finding(rule_that(finding(), "narrow"), finding())
    assert may_have_caused(move, replace(narrow, topic="space"))
    assert not may_have_caused(move, replace(narrow, topic="tone"))


@pytest.mark.parametrize("piece", ["process", "sentence", "effort", "amount", "touches", "followed_by"])
def test_a_kind_that_lacks_a_piece_cannot_be_imported(piece: str, more_kinds: Path) -> None:
    lines = [line for line in HALVED.replace("halved", "forgetful").splitlines() if not line.startswith(f"    {piece}=")]
    (more_kinds / "forgetful.py").write_text("\n".join(lines), encoding="utf-8")
    with pytest.raises(TypeError, match=f"the remedy kind forgetful lacks: {piece}"):
        all_kinds()


def test_a_module_that_declares_another_kind_cannot_be_imported(more_kinds: Path) -> None:
    (more_kinds / "misnamed.py").write_text(HALVED, encoding="utf-8")
    with pytest.raises(TypeError, match="misnamed must declare KIND, a RemedyKind called misnamed"):
        all_kinds()


def test_an_unknown_kind_is_refused_with_the_nearest_name() -> None:
    with pytest.raises(ValueError, match=r"no remedy of kind 'low_shelve'\. Did you mean 'low_shelf'"):
        kind_of(Remedy("low_shelve"))


@pytest.mark.parametrize(
    ("kind", "band_hz", "reached"),
    [
        ("bell", (450.0, 500.0), True), ("bell", (400.0, 450.0), True), ("bell", (2100.0, 4000.0), False), ("bell", None, True),
        ("low_shelf", (30.0, 40.0), True), ("low_shelf", (2100.0, 4000.0), False), ("high_pass", (30.0, 40.0), True),
        ("high_shelf", (8000.0, 9000.0), True), ("high_shelf", (30.0, 40.0), False), ("low_pass", (8000.0, 9000.0), True),
    ],
)  # fmt: skip
def test_an_equaliser_touches_what_lies_in_its_reach(kind: str, band_hz: tuple[float, float] | None, reached: bool) -> None:
    remedy = Remedy(kind, frequency_hz=1000.0 if band_hz != (400.0, 450.0) else 900.0, gain_db=-3.0)
    touches = kind_of(remedy).touches
    assert "tone" in touches.topics
    assert touches.reach(remedy, band_hz) is reached
    assert not touches.reach(Remedy(kind, gain_db=-3.0), band_hz)


def test_rules_propose_kinds_that_there_are() -> None:
    rules_folder = Path(str(rules.__file__)).parent
    proposed = {
        name for path in rules_folder.rglob("*.py") for name in re.findall(r'Remedy\(\s*kind="(\w+)"', path.read_text(encoding="utf-8"))
    }
    assert len(proposed) > 8
    assert proposed <= set(all_kinds()), proposed - set(all_kinds())
