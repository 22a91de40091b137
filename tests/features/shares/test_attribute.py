"""Shares of a reading: what a part adds to it, against parts whose shares are known."""

from collections.abc import Mapping
from typing import get_args

import numpy as np
import pytest
from numpy.typing import NDArray

from features.records.base import Span
from features.records.elements import Attribution, Sharing
from features.shares.about import About
from features.shares.attribute import attribute, laid
from features.shares.ways import WAYS
from features.sound.signal import Signal

RATE_HZ = 44100
SECONDS = 12
TIME = np.arange(SECONDS * RATE_HZ) / RATE_HZ
PLACE = 5 * RATE_HZ
Sound = NDArray[np.float64]


def noise(seed: int, level: float = 0.05) -> Sound:
    """Return the same noise in both channels."""
    return np.repeat(level * np.random.default_rng(seed).standard_normal((1, TIME.size)), 2, axis=0)


def tone(hz: float, level: float = 0.1) -> Sound:
    """Return a tone in both channels."""
    return np.repeat(level * np.sin(2 * np.pi * hz * TIME)[None], 2, axis=0)


def laid_on(about: About, parts: Mapping[str, Sound], bus: Sound | float = 0.0) -> Attribution:
    """Attribute one reading of the parts' sum, and of what the bus adds."""
    mix = sum(np.broadcast_to(part, (2, TIME.size)) for part in parts.values()) + bus
    sources = {name: Signal(part.astype(np.float32), RATE_HZ) for name, part in parts.items()}
    (attribution,) = attribute(sources, Signal(np.asarray(mix, np.float32), RATE_HZ), [about])
    assert attribution is not None
    return attribution


def at(sample: int, value: float) -> Sound:
    """Return silence with one sample that is not."""
    sound = np.zeros((2, TIME.size))
    sound[:, sample] = value
    return sound


def stepped(sound: Sound, factor: float) -> Sound:
    """Return the sound louder from the place on."""
    return np.asarray(sound * np.where(TIME * RATE_HZ >= PLACE, factor, 1.0), np.float64)


def swelling(sound: Sound, depth: float) -> Sound:
    """Return the sound with its level going up and down twice a second."""
    return np.asarray(sound * (1.0 + depth * np.sin(4 * np.pi * TIME)), np.float64)


HERE = (Span(PLACE / RATE_HZ - 0.01, PLACE / RATE_HZ + 0.01),)
FADE = np.clip((SECONDS - 1.0 - TIME) * 4.0, 0.0, 1.0)
CARRIED: dict[Sharing, tuple[About, Sound]] = {
    "power": (About("power", (), (20.0, 60.0)), tone(45.0)),
    "moments": (About("moments", (Span(4.0, 7.0),), (2000.0, 5000.0)), tone(3000.0)),
    "bump": (About("bump", (), (900.0, 1100.0)), tone(1000.0)),
    "lean": (About("lean"), np.stack([noise(5)[0], 0.1 * noise(5)[0]])),
    "sides": (About("sides"), np.stack([noise(6)[0], -noise(6)[0]])),
    "movement": (About("movement", (), (250.0, 16000.0)), swelling(noise(7), 0.9)),
    "step": (About("step", HERE), stepped(noise(8), 4.0)),
    "hum": (About("hum", (), (45.0, 250.0)), tone(50.0) + tone(100.0)),
    "noise": (About("noise"), noise(9, 0.3)),
    "offset": (About("offset"), np.full((2, TIME.size), 0.02)),
    "peaks": (About("peaks", HERE), at(PLACE, 0.9)),
    "tops": (About("tops", HERE), at(PLACE, 0.9)),
    "breaks": (About("breaks", HERE), at(PLACE, 0.4)),
    "start": (About("start"), np.asarray(tone(200.0) + 0.2, np.float64)),
    "end": (About("end"), tone(200.0)),
}
QUIET_ENDS = np.clip(TIME * 2.0, 0.0, 1.0) * FADE
OTHERS = {"pad": noise(1) * QUIET_ENDS, "keys": noise(2) * QUIET_ENDS, "mono": noise(3)[:1] * QUIET_ENDS}


def test_every_way_is_declared_and_tried() -> None:
    assert set(WAYS) == set(get_args(Sharing)) == set(CARRIED)


@pytest.mark.parametrize("sharing", get_args(Sharing))
def test_the_element_that_brings_it_carries_it(sharing: Sharing) -> None:
    about, sound = CARRIED[sharing]
    attribution = laid_on(about, {**OTHERS, "fault": sound})
    assert attribution.element == "fault"
    assert attribution.left_over < 0.01


@pytest.mark.parametrize("sharing", get_args(Sharing))
def test_what_the_bus_brings_is_laid_on_no_element(sharing: Sharing) -> None:
    about, sound = CARRIED[sharing]
    assert laid_on(about, OTHERS, bus=sound).carrier == "left over"


def test_a_tilt_of_the_whole_bus_is_no_elements_lean() -> None:
    parts = {name: np.repeat(noise(place), 1, axis=0) for place, name in enumerate(("a", "b", "c"))}
    turned = -0.7 * sum(parts.values()) * np.array([[0.0], [1.0]])
    assert laid_on(About("lean"), parts, bus=turned).carrier == "left over"


def test_tops_that_were_cut_after_the_elements_are_the_buss() -> None:
    parts = {"a": at(PLACE, 0.8), "b": at(PLACE, 0.5)}
    assert laid_on(About("tops", HERE), parts, bus=at(PLACE, -0.3)).carrier == "left over"
    assert laid_on(About("peaks", HERE), parts, bus=at(PLACE, -0.3)).element == "a"


def test_correlated_parts_share_what_they_add_together() -> None:
    parts = {"a": tone(45.0, 0.2), "b": tone(45.0, 0.1), "c": noise(4, 0.001)}
    attribution = laid_on(About("power", (), (20.0, 60.0)), parts)
    assert [share.name for share in attribution.shares] == ["a", "b"]
    assert attribution.shares[0].share == pytest.approx(2 / 3, abs=0.01)


def test_no_element_and_several() -> None:
    alike = {str(number): 0.1 for number in range(10)}
    assert laid(alike, 1.0).carrier == "sum"  # type: ignore[union-attr]
    several = laid({"a": 0.4, "b": 0.35, "c": 0.25}, 1.0)
    assert several is not None
    assert (several.carrier, [share.name for share in several.shares]) == ("several", ["a", "b"])


def test_what_takes_away_carries_none_of_it() -> None:
    attribution = laid({"a": 1.5, "b": -0.5}, 1.0)
    assert attribution is not None
    assert (attribution.element, attribution.shares[0].share) == ("a", 1.0)


def test_a_mix_without_the_reading_says_nothing() -> None:
    silent = Signal(np.zeros((2, TIME.size), np.float32), RATE_HZ)
    assert attribute({"a": silent}, silent, [About("power"), About("offset"), About("peaks", HERE)]) == (None, None, None)
