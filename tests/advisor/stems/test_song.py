"""A song with its stems: what is done to the whole mix moves none of its elements against the others."""

from pathlib import Path

import pytest

from advisor.app.progress import Quiet
from advisor.app.settings import Settings
from advisor.app.yardstick import yardstick_of
from advisor.material import attach_stems, open_material
from advisor.measuring.measure import measure
from features.records.base import Span
from features.records.elements import Elements
from rules.remedy import Remedy
from tests import signals
from tests.sounds.stem_song import write

SECONDS = 5.0


@pytest.mark.parametrize("remedy", [Remedy("gain", "left", gain_db=-4.0), Remedy("polarity", "right")])
def test_a_move_on_the_whole_mix_leaves_the_elements_balance(tmp_path: Path, remedy: Remedy) -> None:
    drums, pad = signals.drums(SECONDS), signals.pink(SECONDS, rms_dbfs=-24.0, correlation=0.9)
    bass = signals.stereo(signals.pink_wave(SECONDS, signals.RATE_HZ, -22.0, 3, 40.0, 120.0, 0.0))
    folder = write(tmp_path, {"drums": 0.3 * drums, "pad": pad, "bass": bass})
    yardstick = yardstick_of(Settings())
    with open_material(None, folder, Quiet()) as material:
        measured = measure(material.source, material.file, material.not_finite, yardstick, Quiet())
        complete, song = attach_stems(material, measured, yardstick, Quiet())
        stack = song.excerpt((Span(0.0, SECONDS),))
        before, after = song.listen(stack).outcomes, song.listen(song.apply(remedy, stack)).outcomes
        whole = song.complete(measured, [remedy])
    assert (after.levels_nats, after.elements_heard, after.stand.elements) == (
        before.levels_nats, before.elements_heard, before.stand.elements,
    )  # fmt: skip
    assert after.playback != before.playback, "the move is there"
    elements, treated = complete.records[Elements], whole.records[Elements]
    assert isinstance(elements, Elements)
    assert isinstance(treated, Elements)
    for element, moved in zip(elements.elements, treated.elements, strict=True):
        assert moved.level.in_mix_lu == pytest.approx(element.level.in_mix_lu, abs=0.01)
        assert moved.masking.audible_share == pytest.approx(element.masking.audible_share, abs=1e-6)
