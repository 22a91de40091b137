"""A remedy as one plain sentence: what to move, where, by how much."""

from collections.abc import Callable
from math import asinh, log

from advisor.app.words import frequency
from advisor.remedies.usual_settings import ATTACK_MS, BAND_RATIO, BELL_Q, BLEND_DB, KNEE_DB, PASS_ORDER, RATIO, RELEASE_MS, SHELF_Q, given
from rules.remedy import Remedy

PARTS = {
    "mix": "the whole mix",
    "percussive": "the drums and other attacks",
    "sustained": "whatever sustains there",
    "mid": "the centre of the stereo picture",
    "side": "the sides of the stereo picture",
    "left": "the left channel",
    "right": "the right channel",
    "drums": "all of 'drums'",
    "music": "all of 'music'",
    "vocals": "all of 'vocals'",
}


def part_words(part: str) -> str:
    """Return the part a remedy works on; an element is called by its name, a group by all of it."""
    return PARTS.get(part, f"'{part}'")


def bandwidth_octaves(q: float) -> float:
    """Return a bell's width in octaves between its half-gain points: 2 asinh(1 / 2Q) / ln 2.

    >>> round(bandwidth_octaves(1.414), 2)
    1.0
    """
    return 2.0 * asinh(1.0 / (2.0 * q)) / log(2.0)


def width_words(q: float | None) -> str:
    """Return how wide a bell is, as one says it at a desk."""
    octaves = bandwidth_octaves(q or BELL_Q)
    for most, words in ((0.2, "as narrow as the equaliser goes"), (0.4, "a third of an octave wide"), (0.75, "half an octave wide")):
        if octaves < most:
            return words
    return "as wide as an octave" if octaves < 1.25 else f"as wide as {octaves:.1f} octaves"


def _amount(gain_db: float | None) -> str:
    gain = gain_db or 0.0
    return f"about {abs(gain):.1f} dB {'more' if gain > 0 else 'less'}"


def _on(remedy: Remedy) -> str:
    return f"on {part_words(remedy.part)}"


def _hz(remedy: Remedy) -> str:
    return frequency(remedy.frequency_hz or 0.0)


def _gain(r: Remedy) -> str:
    return f"{_amount(r.gain_db)} of {'everything' if r.part == 'mix' else part_words(r.part).replace(' there', '')}"


def _bell(r: Remedy) -> str:
    return f"{_amount(r.gain_db)} around {_hz(r)}, {width_words(r.q)} (Q {r.q or BELL_Q:.2g}), {_on(r)}"


def _dynamic(r: Remedy) -> str:
    if r.key is not None:
        return (
            f"a dip of about {abs(r.gain_db or 0.0):.1f} dB in {part_words(r.part)} around {_hz(r)} whenever {part_words(r.key)} sounds "
            f"(side-chained dynamic equaliser, Q {r.q or 1.0:.2g})"
        )
    return (
        f"a dynamic equaliser around {_hz(r)} (Q {r.q or BELL_Q:.2g}), down by up to {abs(r.gain_db or 0.0):.1f} dB when that band passes "
        f"{r.threshold_dbfs or 0.0:.1f} dBFS (peaks), ratio {r.ratio or BAND_RATIO:g}:1, {_on(r)}"
    )


def _shelf(side: str) -> Callable[[Remedy], str]:
    return lambda r: f"{_amount(r.gain_db)} {side} {_hz(r)} with a shelf (half of it at {_hz(r)}, Q {r.q or SHELF_Q:.2g}), {_on(r)}"


def _pass(name: str) -> Callable[[Remedy], str]:
    return lambda r: f"a {name} filter at {_hz(r)}, {6 * (r.order or PASS_ORDER)} dB per octave, {_on(r)}"


def _compressor(r: Remedy) -> str:
    makeup = f", {r.gain_db:+.1f} dB of make-up gain" if r.kind == "compressor" and r.gain_db else ""
    return (
        f"compress {part_words(r.part).replace(' there', '')}: ratio {r.ratio or RATIO:g}:1, threshold {r.threshold_dbfs or 0.0:.1f} dBFS "
        f"(peaks), attack {given(r.attack_ms, ATTACK_MS):g} ms, release {given(r.release_ms, RELEASE_MS):g} ms, "
        f"knee {given(r.knee_db, KNEE_DB):g} dB{makeup}"
    )


def _parallel(r: Remedy) -> str:
    blend_db = given(r.blend_db, BLEND_DB)
    return f"{_compressor(r)}, and blend that copy in {abs(blend_db):.1f} dB {'over' if blend_db > 0 else 'under'} the dry sound"


def _pan(r: Remedy) -> str:
    side = "right" if (r.gain_db or 0.0) > 0.0 else "left"
    return f"pan {part_words(r.part)} to the {side}, by about {abs(r.gain_db or 0.0):.1f} dB between its channels"


def _none(r: Remedy) -> str:
    mends = "nothing a fader, an equaliser or a compressor can mend"
    return mends if r.part == "mix" else f"{mends}: go back to an earlier state of {part_words(r.part)}"


def _delay(r: Remedy) -> str:
    return f"move {part_words(r.part)} {'later' if (r.delay_ms or 0.0) > 0 else 'earlier'} by {abs(r.delay_ms or 0.0):.2f} ms"


WORDS: dict[str, Callable[[Remedy], str]] = {
    "gain": _gain,
    "bell": _bell,
    "dynamic_bell": _dynamic,
    "low_shelf": _shelf("below"),
    "high_shelf": _shelf("above"),
    "high_pass": _pass("high-pass"),
    "low_pass": _pass("low-pass"),
    "compressor": _compressor,
    "parallel": _parallel,
    "peak_limiter": lambda r: f"a limiter without make-up gain, ceiling {r.ceiling_dbfs or 0.0:.1f} dBFS, {_on(r)}",
    "saturation": lambda r: f"saturation driven by {r.gain_db or 0.0:.1f} dB, {_on(r)}",
    "waveshaper": lambda r: f"a waveshaper that keeps the peaks, raising the body by {r.gain_db or 0.0:.1f} dB, {_on(r)}",
    "mono_below": lambda r: f"everything below {_hz(r)} in mono",
    "side_gain": lambda r: f"{_amount(r.gain_db)} side signal",
    "pan": _pan,
    "polarity": lambda r: f"flip the polarity of {part_words(r.part)}",
    "delay": _delay,
    "none": _none,
}


def remedy_sentence(remedy: Remedy) -> str:
    """Return the remedy as one sentence without a full stop."""
    text = WORDS[remedy.kind](remedy)
    return text[0].upper() + text[1:]
