"""The faults that `planted_faults.py` plants: what each does, its three sizes and why these, and what counts as having found it.

Sizes are just audible, clear, gross. Thresholds on pop music: a rise of Q 1 from 1.5 dB, of Q 10 from 3 dB (Toole and Olive 1988);
levels from about 0.5 to 1 dB (Miller 1947, Jesteadt et al. 1977). Just audible is about twice the threshold, since nobody compares side by
side; clear is what methods of the spectrum alone find in half of the songs (7 dB); gross is what nobody would let pass.
Where no threshold was found, that is said.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Literal

import numpy as np
import pyloudnorm

from rules.base import Finding
from rules.remedy import Remedy
from tests.benchmarks.diagnosis import planted_sound as sound
from tests.benchmarks.plans.planting import Floats, Stems, bell, low_shelf, strays_above, strongest_drum

SIZES = ("just audible", "clear", "gross")
Size = Literal[0, 1, 2]
NEAR_OCTAVES = 1.0 / 3.0
RESONANCE_HZ, RESONANCE_Q = 2240.0, 8.0  # on the edge of two third octaves, and of no scale
LOW_MIDS_HZ, HARSH_HZ, SUB_HZ = 300.0, 3200.0, 60.0
LEADS = {
    "dear-jon-doe": "guitar", "esp": "lead", "final-step": "synth-high", "make-me": "synth-high", "onion": "synth-high",
    "pingus-3": "i2-flute-nino", "progress": "lead", "reggaeton-try": "lead",
}  # fmt: skip
BASSES = {
    "esp": "bass", "final-step": "bass", "make-me": "bass", "pingus-3": "i5-bass", "progress": "bass", "reggaeton-try": "bass",
}  # fmt: skip
KICKS = dict.fromkeys(("dear-jon-doe", "esp", "final-step", "make-me", "progress", "reggaeton-try"), "kick")
VERSE_S = (9.0, 21.0)
LEAST_MOVE_DB = 3.0


@dataclass(frozen=True, slots=True)
class Planted:
    """A planted mix; its stems where the fault is one of elements, and the elements it is about."""

    mix: Floats
    stems: Mapping[str, Floats] | None = None
    elements: frozenset[str] = frozenset()
    peak: float | None = None  # None: brought to -3 dBFS like every other


Plant = Callable[[Stems, float], Planted | None]
Direction = Callable[[Remedy], bool]


@dataclass(frozen=True, slots=True)
class Fault:
    """One fault: ``amounts`` are its three sizes; None from ``plant`` says that this song cannot have it.

    ``names`` are the rules that name it rightly; ``near_hz`` the place it must be named at, or ``band_hz`` the range.
    ``follows`` are rules whose finding is true of the planted song as well, because the plant brings it about.
    ``direction`` says whether a remedy goes the right way; None where the rule can only advise.
    """

    id: str
    plant: Plant
    amounts: tuple[float, float, float]
    unit: str
    why: str
    names: frozenset[str]
    direction: Direction | None = None
    near_hz: float | None = None
    band_hz: tuple[float, float] | None = None
    stems: bool = False
    broad: bool = False
    follows: frozenset[str] = frozenset()
    stage: str = "mixing"
    placed: frozenset[str] = field(default=frozenset(("broad_excess", "broad_lack", "resonance", "band_too_wide")))

    def hit(self, rule: str, finding: Finding, elements: frozenset[str]) -> bool:
        """Whether a finding names this fault: the right rule, at the right place, about the right element."""
        if rule not in self.names or (self.stems and finding.stem is not None and finding.stem not in elements):
            return False
        if rule not in self.placed:
            return True
        hz = centre_of(finding)
        if self.near_hz is not None:
            return hz is not None and abs(float(np.log2(hz / self.near_hz))) <= NEAR_OCTAVES + 1e-9
        return self.band_hz is None or (hz is not None and self.band_hz[0] <= hz <= self.band_hz[1])


def centre_of(finding: Finding) -> float | None:
    """Return the frequency a finding speaks of."""
    if finding.remedy is not None and finding.remedy.frequency_hz is not None:
        return finding.remedy.frequency_hz
    return None if finding.band_hz is None else float(np.sqrt(finding.band_hz[0] * finding.band_hz[1]))


def on_mix(change: Callable[[Floats, int, float], Floats]) -> Plant:
    return lambda song, amount: Planted(change(song.mix, song.rate_hz, amount))


def cuts(remedy: Remedy) -> bool:
    return remedy.kind in ("bell", "dynamic_bell", "low_shelf", "high_shelf", "high_pass", "gain") and (remedy.gain_db or -1.0) < 0.0


def lifts(remedy: Remedy) -> bool:
    return (remedy.gain_db or 0.0) > 0.0


def brighter(remedy: Remedy) -> bool:
    """Whether the highs gain on the lows: levels of a spectrum are relative."""
    low = (remedy.frequency_hz or 0.0) < 1000.0
    return cuts(remedy) if low else lifts(remedy)


def darker(remedy: Remedy) -> bool:
    low = (remedy.frequency_hz or 0.0) < 1000.0
    return lifts(remedy) if low else cuts(remedy)


def kind_is(*kinds: str) -> Direction:
    return lambda remedy: remedy.kind in kinds


def frees(remedy: Remedy) -> bool:
    """Whether a buried part is raised, or what covers it is lowered."""
    covered = remedy.part not in ("mix", "percussive", "drums")
    return lifts(remedy) or (covered and remedy.kind in ("bell", "dynamic_bell", "gain") and (remedy.gain_db or 0.0) < 0.0)


def narrows(remedy: Remedy) -> bool:
    return remedy.kind == "mono_below" or (remedy.part == "side" and (remedy.gain_db or 0.0) < 0.0)


def levels_sides(remedy: Remedy) -> bool:
    """Whether the louder side, left in every plant, is lowered, or the other raised."""
    gain_db = remedy.gain_db or 0.0
    return remedy.kind == "gain" and ((remedy.part == "left" and gain_db < 0.0) or (remedy.part == "right" and gain_db > 0.0))


def with_stems(song: Stems, changed: Mapping[str, Floats]) -> Planted:
    stems = {**song.stems, **changed}
    total: Floats = np.sum(list(stems.values()), axis=0)
    return Planted(total, stems, frozenset(changed))


def lu(samples: Floats, rate_hz: int) -> float:
    """Return integrated loudness, by another library than ours."""
    return float(pyloudnorm.Meter(rate_hz).integrated_loudness(samples))


def brought_to(song: Stems, names: frozenset[str], level_lu: float, *, up: bool) -> Planted | None:
    """Move some stems until together they lie ``level_lu`` off the others; None where that is no move of 3 dB or more the right way.

    Where an element lies to begin with differs by 10 dB and more between songs: moved by a fixed amount, some would only come to lie right.
    """
    part: Floats = np.sum([song.stems[name] for name in sorted(names)], axis=0)
    gain_db = level_lu - (lu(part, song.rate_hz) - lu(song.mix - part, song.rate_hz))
    if abs(gain_db) < LEAST_MOVE_DB or (gain_db > 0.0) != up:
        return None
    return with_stems(song, {name: sound.times(song.stems[name], gain_db) for name in names})


def drums_buried(song: Stems, below_lu: float) -> Planted | None:
    return brought_to(song, song.drum_stems, -below_lu, up=False) if song.has_drums else None


def lead_buried(song: Stems, below_lu: float) -> Planted | None:
    name = LEADS.get(song.name)
    return None if name is None else brought_to(song, frozenset((name,)), -below_lu, up=False)


def lead_raised(song: Stems, above_lu: float) -> Planted | None:
    name = LEADS.get(song.name)
    return None if name is None else brought_to(song, frozenset((name,)), above_lu, up=True)


def kick_cancelled(song: Stems, loss_db: float) -> Planted | None:
    """Layer the kick's low end, upside down, on the bass: what a second kick in the bass's sampler does."""
    kick, bass = KICKS.get(song.name), BASSES.get(song.name)
    if kick is None or bass is None:
        return None
    share = 1.0 - 10 ** (-loss_db / 20)
    layer = sound.lows(song.stems[kick], song.rate_hz, 150.0) * share
    planted = with_stems(song, {bass: song.stems[bass] - layer})
    return Planted(planted.mix, planted.stems, frozenset((kick, bass)))


def lows_turned(song: Stems, degrees: float) -> Planted:
    """Turn the lows of the whole mix: a wide bass beside a kick in the middle loses nothing that is heard."""
    return Planted(sound.turned_apart(song.mix, song.rate_hz, 150.0, degrees))


def leaned(song: Stems, amount_db: float) -> Planted:
    return Planted(song.mix * np.array([1.0, 10 ** (-amount_db / 20)]))


def inverted(song: Stems, share: float) -> Planted | None:
    """Turn the right channel of the loudest stems over, until ``share`` of the energy is turned."""
    power = {name: float(np.mean(samples**2)) for name, samples in song.stems.items()}
    wanted, done, turned = share * sum(power.values()), 0.0, []
    for name in sorted(power, key=lambda name: power[name], reverse=share >= 1.0):
        if done >= wanted - 1e-12:
            break
        turned.append(name)
        done += power[name]
    upside = np.array([1.0, -1.0])
    return Planted(np.sum([samples * (upside if name in turned else 1.0) for name, samples in song.stems.items()], axis=0))


def made_narrow(song: Stems, share: float) -> Planted | None:
    """Lower the side signal until ``share`` of the energy lies beside the centre; None where that takes less than 3 dB.

    Songs differ by 8 dB in width: lowered by a fixed amount, as it was first, a wide one only came to lie where narrow ones are.
    """
    mix = song.mix
    middle, side = (float(np.mean((mix[:, 0] + sign * mix[:, 1]) ** 2)) for sign in (1.0, -1.0))
    side_db = 10 * float(np.log10(max(share / (1.0 - share) * middle, 1e-12) / max(side, 1e-12)))
    return None if side_db > -LEAST_MOVE_DB else Planted(sound.narrowed(mix, side_db))


def strayed(song: Stems, above_db: float) -> Planted | None:
    return Planted(strays_above(song, above_db)) if song.drum_stems else None


def pumped(song: Stems, depth_db: float) -> Planted | None:
    if not song.has_drums:
        return None
    stem = song.stems[KICKS.get(song.name, strongest_drum(song))]
    return Planted(song.drums + sound.dipped(song.rest, song.rate_hz, sound.strikes_of(stem, song.rate_hz), depth_db))


def past_full_scale(song: Stems, over_db: float) -> Planted:
    mix = song.mix
    true_peak_db, peak_db = sound.db(sound.true_peak(mix)), sound.db(float(np.abs(mix).max()))
    return Planted(mix, peak=float(10 ** ((over_db + peak_db - true_peak_db) / 20)))


def offset(song: Stems, share: float) -> Planted:
    return Planted(song.mix + share * float(np.abs(song.mix).max()))


def walled(song: Stems, hz: float) -> Planted:
    return Planted(sound.wall(song.mix, song.rate_hz, hz))


def tail_cut(song: Stems, left_db: float) -> Planted:
    """Cut the clean ending off and stop while the sound still stands at ``left_db``."""
    away = round(1.6 * song.rate_hz)  # the excerpt's own fade; as much silence before it keeps the length
    ended = sound.ended_at(song.mix[:-away], song.rate_hz, 1.0, left_db)
    return Planted(np.concatenate((np.zeros((away, ended.shape[1])), ended)))


def hum_before_and_under(song: Stems, level_db: float) -> Planted:
    """Let the hum run from 7 s before the song: under music without a pause nobody hears it, and nothing finds it."""
    mix = song.mix
    paused = np.concatenate((np.zeros((7 * song.rate_hz, mix.shape[1])), mix))
    return Planted(sound.hummed(paused, song.rate_hz, level_db + sound.db(float(np.abs(mix).max()))))


ELEMENT_LOW = frozenset(("lead_level", "element_too_quiet", "element_inaudible", "element_covered"))
ELEMENT_HIGH = frozenset(("lead_level", "element_too_loud"))
TONE_FOLLOWS = frozenset(("short_of_target",))

FAULTS: tuple[Fault, ...] = (
    Fault("low-mid build-up", on_mix(lambda x, r, a: bell(x, r, LOW_MIDS_HZ, a, 1.0)), (3, 7, 11), "dB at 300 Hz, Q 1",
          "twice the threshold of Q 1; 7 and 11 dB as in the matched filter's own trial",
          frozenset(("broad_excess",)), cuts, near_hz=LOW_MIDS_HZ, broad=True, follows=TONE_FOLLOWS),
    Fault("harshness", on_mix(lambda x, r, a: bell(x, r, HARSH_HZ, a, 1.0)), (3, 7, 11), "dB at 3.2 kHz, Q 1",
          "the same sizes, where the ear is most sensitive",
          frozenset(("broad_excess", "ear_band_too_strong", "harsh_moments")), cuts, near_hz=HARSH_HZ, broad=True, follows=TONE_FOLLOWS),
    Fault("sub excess", on_mix(lambda x, r, a: low_shelf(x, r, SUB_HZ, a)), (4, 8, 12), "dB, low shelf at 60 Hz",
          "no threshold found for shelves this low; songs differ by 8 dB there",
          frozenset(("sub_excess", "broad_excess")), cuts, band_hz=(20, 80), broad=True, follows=TONE_FOLLOWS),
    Fault("no sub", on_mix(sound.high_pass), (45, 65, 90), "Hz, high-pass of 24 dB/octave",
          "no threshold found; 45 Hz takes the lowest octave, 90 Hz the body of most kicks",
          frozenset(("sub_lack", "broad_lack")), lifts, band_hz=(20, 110), broad=True),
    Fault("dull", on_mix(lambda x, r, a: sound.high_shelf(x, r, 4000.0, -a)), (4, 8, 12), "dB down, high shelf at 4 kHz",
          "songs differ by 5 to 8 dB there; twice the threshold of Q 1 and more",
          frozenset(("too_dark", "broad_lack", "ear_band_too_weak")), brighter, band_hz=(4000, 16000), broad=True),
    Fault("shrill", on_mix(lambda x, r, a: sound.high_shelf(x, r, 6000.0, a)), (4, 8, 12), "dB, high shelf at 6 kHz",
          "as for dull", frozenset(("too_bright", "broad_excess")), darker, band_hz=(4500, 16000), broad=True, follows=TONE_FOLLOWS),
    Fault("resonance", on_mix(lambda x, r, a: bell(x, r, RESONANCE_HZ, a, RESONANCE_Q)), (6, 10, 15), "dB at 2.24 kHz, Q 8",
          "twice the threshold of Q 10, then well above the 8 dB that were found in half of the songs",
          frozenset(("resonance", "broad_excess")), cuts, near_hz=RESONANCE_HZ, follows=TONE_FOLLOWS | {"ear_band_too_strong"}),
    Fault("drums buried", drums_buried, (9, 13, 18), "LU below the rest, all drum stems",
          "kick and snare lie 4 to 9 LU below the mix in hobby mixes, 3 to 4 LU spread", frozenset(("buried_hits",)), frees),
    Fault("drums buried, stems", drums_buried, (9, 13, 18), "LU below the rest; stems given", "as above",
          frozenset(("buried_hits",)) | ELEMENT_LOW, frees, stems=True),
    Fault("lead buried, stems", lead_buried, (13, 18, 24), "LU below the rest; stems given",
          "leads lie 10 LU below the mix in hobby mixes, 6 LU spread; voices about 3", ELEMENT_LOW, frees, stems=True),
    Fault("lead too loud, stems", lead_raised, (2, 6, 11), "LU above the rest; stems given",
          "11 LU leave little of the others to hear", ELEMENT_HIGH, cuts, stems=True,
          follows=TONE_FOLLOWS | {"levels_far_apart", "headroom_of_element"}),
    Fault("kick and bass cancelling, stems", kick_cancelled, (3, 6, 12), "dB of the kick's low end cancelled; stems given",
          "three times the threshold of level, doubled, doubled", frozenset(("kick_against_bass",)),
          kind_is("polarity", "delay"), stems=True),
    Fault("low end wide", lows_turned, (30, 45, 60), "degrees each way, below 150 Hz",
          "mono loses 1.2, 3 and 6 dB of it", frozenset(("low_end_too_wide", "band_too_wide")), narrows, band_hz=(20, 180),
          follows=frozenset(("mono_loss",))),
    Fault("one side down", leaned, (2, 4, 8), "dB, right channel", "twice the threshold of level differences between the ears, about 1 dB",
          frozenset(("left_right_imbalance",)), levels_sides),
    Fault("one side inverted", inverted, (0.3, 0.6, 1.0), "of the energy, right channel, softest stems first",
          "no threshold found; a third is one or two tracks, 1 is the cable", frozenset(("polarity_fault", "mono_loss", "band_too_wide")),
          lambda remedy: remedy.kind == "polarity" or narrows(remedy),
          follows=frozenset(("mono_loss", "band_too_wide", "low_end_too_wide"))),
    Fault("near mono", made_narrow, (0.02, 0.008, 0.002), "of the energy beside the centre",
          "no threshold found; of finished songs one in twenty has less than 3 %", frozenset(("almost_mono",))),
    Fault("stray peaks", strayed, (2, 4, 7), "dB above the song's highest peak, five hits of the strongest drum",
          "they cost as much of the room; a limiter takes 2 dB of a single hit away unheard, 7 dB not",
          frozenset(("stray_peaks", "short_of_target")), kind_is("peak_limiter", "compressor"), follows=TONE_FOLLOWS),
    Fault("over-compressed", on_mix(sound.crest_lowered), (3, 6, 9), "dB of peak over RMS taken by a limiter",
          "methods put the limits of drive at 4 to 12 dB; listeners dislike the highest amounts, matched or not",
          frozenset(("too_dense", "limiter_already_working")), lambda remedy: remedy.kind not in ("compressor", "peak_limiter"),
          follows=frozenset(("buried_hits", "pumping"))),  # its gain ducks at the hits and comes back
    Fault("pumping", pumped, (4, 8, 12), "dB dip of all but the drums after each kick",
          "no threshold found; the trial of pumping reads 3 to 9 dB",
          frozenset(("pumping",)), None),
    Fault("clipped", on_mix(lambda x, _, a: sound.share_clipped(x, a / 100)), (0.02, 0.3, 3), "% of the samples",
          "clipping is heard at far lower amounts than other distortion (de Santis and Henin 2007)",
          frozenset(("clipped_tops", "limiter_already_working")),  # the latter names the limiter or clipper, and outlives a conversion
          None, follows=frozenset(("too_dense", "true_peak_overs"))),
    Fault("level-jumping verse", on_mix(lambda x, r, a: sound.stretch_moved(x, r, *VERSE_S, -a)), (4, 8, 14), "dB down for 12 s",
          "several times the threshold of level, as songs have quieter parts",
          frozenset(("sections_too_far_apart", "level_step")), None, follows=frozenset(("low_end_unsteady", "band_level_jumps"))),
    Fault("hum", hum_before_and_under, (-60, -48, -36), "dB under the peak",
          "music hides it but in pauses; -60 dB is what a quiet listener hears in one",
          frozenset(("hum", "noise_floor")), stage="delivery",
          follows=frozenset(("cut_head", "cut_tail"))),
    Fault("DC", offset, (0.005, 0.02, 0.08), "of the peak",
          "not heard by itself; a quarter of finished songs has 1 % of full scale, 8 % costs 0.7 dB of headroom",
          frozenset(("dc_offset",)), kind_is("high_pass"), stage="delivery"),
    Fault("band-limited", walled, (16000, 12000, 8000), "Hz, steep wall", "16 kHz is heard by the young only, 8 kHz by anybody",
          frozenset(("band_limited",)), None, stage="delivery", follows=frozenset(("too_dark", "broad_lack", "lossy_source"))),
    Fault("cut tail", tail_cut, (-30, -18, -6), "dB left where it stops", "no threshold found; -30 dB is a reverb's end",
          frozenset(("cut_tail",)), None, stage="delivery"),
    Fault("true-peak overs", past_full_scale, (0.3, 1, 3), "dB over full scale", "0.3 dB is within a meter's error, 3 dB is not",
          frozenset(("true_peak_overs",)), cuts, stage="delivery", follows=frozenset(("clipped_tops",))),
)  # fmt: skip
