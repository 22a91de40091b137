"""What was measured about the elements of a song.

From its stems; frozen records like those of `features.records`.
An element is what one stem holds. All levels are those it has in the mix, after the gain that makes the stems sum to it.
"""

from dataclasses import dataclass
from typing import Annotated, Literal

from features.records.base import Measurement, Moment, Reading, Span

Role = Literal[
    "kick", "snare", "hats", "percussion", "drums", "bass", "vocal", "backing vocal", "lead", "keys", "guitar", "strings", "pad",
    "synth", "effects", "other",
]  # fmt: skip
GroupName = Literal["drums", "bass", "music", "vocals"]
RoleFrom = Literal["name", "sound", "you", "open"]
State = Literal["raw", "finished", "over-compressed", "unclear"]
# How a reading is shared out among the elements; each way is declared in `features.shares.ways`.
Sharing = Literal[
    "power", "moments", "bump", "lean", "sides", "movement", "step", "hum", "noise", "offset", "peaks", "tops", "breaks", "start", "end",
]  # fmt: skip
Carrier = Literal["element", "several", "sum", "left over"]


@dataclass(frozen=True, slots=True)
class Cover:
    """One element hides another."""

    by: Annotated[str, Reading("", "The element that covers.")]
    share: Annotated[float, Reading("0-1", "Share of the covered element's loudness that this one hides.")]
    band_hz: Annotated[tuple[float, float], Reading("Hz", "Where most of what it hides lies.")]
    band_share: Annotated[float, Reading("0-1", "Share of what it hides that lies in this band.")]
    excess_db: Annotated[float, Reading("dB", "How far the cover lies above the covered element there, energy-weighted.")]
    essential: Annotated[bool, Reading("", "Whether this band is among those that carry the covering element itself.")]
    where: Annotated[Span, Reading("s", "Where it hides most.")]


@dataclass(frozen=True, slots=True)
class ElementLevel:
    """How loud an element is.

    Its readings say where it plays, and where it stands.
    """

    integrated_lufs: Annotated[float | None, Reading("LUFS", "Gated loudness of the element alone, at its level in the mix.")]
    in_mix_lu: Annotated[float | None, Reading("LU", "That minus the mix's.")]
    while_playing_lu: Annotated[float | None, Reading("LU", "Its loudness minus the mix's over the stretches in which it plays.")]
    sample_peak_dbfs: Annotated[float | None, Reading("dBFS", "Its highest sample.")]
    crest_db: Annotated[float | None, Reading("dB", "Its peak over its level (RMS) while it plays.")]
    jumps_db: Annotated[float | None, Reading("dB", "Spread (P95 - P10) of its 400 ms loudness while it plays.")]
    plays: Annotated[tuple[Span, ...], Reading("s", "Where it plays.")]
    plays_share: Annotated[float, Reading("0-1", "Share of the song in which it plays.")]
    loudest: Annotated[Span | None, Reading("s", "Its loudest 5 s.")]
    pan_db: Annotated[float | None, Reading("dB", "Level of its right channel minus its left; None for mono or silence.")]
    third_octave_hz: Annotated[tuple[float, ...], Reading("Hz", "Exact band centres.")]
    third_octave_db: Annotated[tuple[float, ...], Reading("dB", "Level in each band (power, not per Hz) while it plays; full scale = 0.")]
    parts_lu: Annotated[
        tuple[float | None, ...],
        Reading("LU", "Its loudness minus the mix's in each part of the song; None where it plays less than a tenth of the part."),
    ] = ()
    correlation: Annotated[
        float | None, Reading("-1..1", "Correlation of its channels, K-weighted, 1 where they are alike; None for mono or one silent side.")
    ] = None
    clipped: Annotated[tuple[Moment, ...], Reading("samples", "Where its tops are cut, longest first, with the longest run.")] = ()
    clipped_runs: Annotated[int, Reading("", "How many tops are cut.")] = 0


@dataclass(frozen=True, slots=True)
class ElementMasking:
    """What of an element can be heard in the mix."""

    audible_share: Annotated[float | None, Reading("0-1", "Share of its loudness that stays audible above all the others.")]
    buried: Annotated[tuple[Moment, ...], Reading("0-1", "Where least of it is heard, worst first, with the share heard there.")]
    covered_by: Annotated[tuple[Cover, ...], Reading("", "Who hides it, most first, at most four.")]


@dataclass(frozen=True, slots=True)
class LevelPlan:
    """The element's fader by the methods for setting levels.

    All are changes to try, not orders.
    """

    over_pink_db: Annotated[
        float | None, Reading("dB", "How far it stands above being just audible over pink noise at the mix's loudness.")
    ]
    over_target_db: Annotated[float | None, Reading("dB", "The same over noise with the target's spectrum.")]
    pink_fader_db: Annotated[float | None, Reading("dB", "Fader change that evens it out with the others over pink noise.")]
    target_fader_db: Annotated[float | None, Reading("dB", "The same over noise with the target's spectrum.")]
    stands_out_db: Annotated[float | None, Reading("dB", "How far its loudness while it plays lies from the middle of the main elements.")]
    usual_lu: Annotated[
        float | None, Reading("LU", "Usual loudness of this role minus the mix's, negative as a rule; the spread is in usual_spread_lu.")
    ]
    usual_spread_lu: Annotated[float | None, Reading("LU", "Standard deviation of that between songs.")]
    since_earlier_db: Annotated[
        float | None, Reading("dB", "Change of its level against the earlier bounce's stems, at matched mix level.")
    ]
    off_db: Annotated[
        float | None,
        Reading(
            "dB",
            "How far it lies above where such elements usually stand, by its loudness and by what is heard of it, together; "
            "what others that lie further off bring about is left out.",
        ),
    ] = None
    then_lu: Annotated[
        float | None,
        Reading("LU", "Its loudness minus the mix's while it plays, with the faders of `moves` set right; None without moves."),
    ] = None
    heard_then: Annotated[float | None, Reading("0-1", "Share of it that is heard then; None without moves.")] = None


@dataclass(frozen=True, slots=True)
class LevelMove:
    """One fader, or that of a group, that lies off."""

    names: Annotated[tuple[str, ...], Reading("", "The elements that lie off together.")]
    group: Annotated[GroupName | None, Reading("", "The group they are; None for a single element.")]
    off_db: Annotated[float, Reading("dB", "How far above (positive) or below they lie, if they do.")]
    expected_db: Annotated[float, Reading("dB", "The same weighed with its chance: what the evidence carries; to be taken off.")]
    chance: Annotated[float, Reading("0-1", "That they lie off to that side.")]


@dataclass(frozen=True, slots=True)
class ElementDynamics:
    """Whether an element needs compression.

    Signs must agree; the settings were found on the element itself.
    """

    state: Annotated[State, Reading("", "raw: jumping and uncontrolled; finished: leave alone; over-compressed; unclear.")]
    signs: Annotated[tuple[str, ...], Reading("", "What speaks for it, each as a clause with its number.")]
    hits: Annotated[int, Reading("", "Number of attacks.")]
    hit_spread_db: Annotated[float | None, Reading("dB", "Standard deviation of the attacks' peaks.")]
    phrase_spread_db: Annotated[float | None, Reading("dB", "Spread (P95 - P10) of its 3 s loudness while it plays.")]
    crest_200ms_db: Annotated[float | None, Reading("dB", "Median crest in windows of 200 ms while it plays.")]
    threshold_dbfs: Annotated[float | None, Reading("dBFS", "Compressor threshold found on this element; None when none is advised.")]
    ratio: Annotated[float | None, Reading("", "Its ratio.")]
    attack_ms: Annotated[float | None, Reading("ms", "Its attack.")]
    release_ms: Annotated[float | None, Reading("ms", "Its release.")]
    reduction_db: Annotated[float | None, Reading("dB", "Gain reduction this gives in the loud moments (P95).")]
    where: Annotated[tuple[Span, ...], Reading("s", "Where the sign shows most.")]
    jumps_db: Annotated[float | None, Reading("dB", "How far its notes jump: standard deviation of their level.")] = None
    jumps_after_db: Annotated[float | None, Reading("dB", "The same with that compressor, computed.")] = None


@dataclass(frozen=True, slots=True)
class ElementHeadroom:
    """What an element costs in loudness."""

    lu_per_db: Annotated[float | None, Reading("LU", "Clean loudness won with the element 1 dB down, the mix's loudness made good.")]
    lu_out: Annotated[float | None, Reading("LU", "Clean loudness won with the element out.")]


@dataclass(frozen=True, slots=True)
class Element:
    """One stem: who it is, and everything measured about it."""

    name: Annotated[str, Reading("", "The file's name without its ending.")]
    role: Annotated[Role, Reading("", "What it plays.")]
    group: Annotated[GroupName, Reading("", "The group it is mixed in.")]
    role_from: Annotated[
        RoleFrom, Reading("", "Whether the role was guessed from the name or the sound, or set; open where these disagree.")
    ]
    channels: Annotated[int, Reading("", "Channels of the stem.")]
    rate_hz: Annotated[int, Reading("Hz", "Sampling rate of the stem.")]
    offset_s: Annotated[float, Reading("s", "How far the stem was moved to fit the mix.")]
    gain_db: Annotated[float, Reading("dB", "Gain that fits it to the mix.")]
    silent: Annotated[bool, Reading("", "Whether it holds no sound.")]
    copy_of: Annotated[str | None, Reading("", "The element whose copy it is.")]
    level: Annotated[ElementLevel, Reading("", "How loud it is, where it plays, where it stands.")]
    masking: Annotated[ElementMasking, Reading("", "What of it can be heard in the mix.")]
    level_plan: Annotated[LevelPlan, Reading("", "Its fader by the methods for setting levels.")]
    dynamics: Annotated[ElementDynamics | None, Reading("", "Whether it needs compression.")] = None
    headroom: Annotated[ElementHeadroom | None, Reading("", "What it costs in loudness.")] = None


@dataclass(frozen=True, slots=True)
class Mixture:
    """How well the stems sum to the mix."""

    gain_db: Annotated[float, Reading("dB", "Gain of the sum against the mix.")]
    offset_s: Annotated[float, Reading("s", "How much later the sum starts than the mix.")]
    residual_db: Annotated[float | None, Reading("dB", "What the sum leaves of the mix, relative to the mix; None without a mix.")]
    residual_band_hz: Annotated[tuple[float, float] | None, Reading("Hz", "Where most of what is left lies.")]
    residual_where: Annotated[Span | None, Reading("s", "Where most of it lies in time.")]
    meaning: Annotated[str, Reading("", "What that means, in one sentence.")]


@dataclass(frozen=True, slots=True)
class ElementGroup:
    """A group of elements and what its bus can take."""

    name: Annotated[GroupName, Reading("", "The group.")]
    members: Annotated[tuple[str, ...], Reading("", "Its elements.")]
    integrated_lufs: Annotated[float | None, Reading("LUFS", "Gated loudness of the group in the mix.")]
    glue_2_dbfs: Annotated[float | None, Reading("dBFS", "Threshold for about 2 dB of reduction at 2:1, 30 ms attack, 100 ms release.")]
    glue_4_dbfs: Annotated[float | None, Reading("dBFS", "The same at 4:1.")]
    stray_peaks_per_minute: Annotated[float | None, Reading("1/min", "Rare peaks that stand clearly above the group's usual ones.")]
    stray_peaks: Annotated[tuple[Moment, ...], Reading("dBFS", "Where they are, highest first, at most twenty.")]
    ceiling_dbfs: Annotated[float | None, Reading("dBFS", "Ceiling that catches only those.")]
    resting_share: Annotated[float | None, Reading("0-1", "Share of the time a limiter at that ceiling does nothing.")]
    parallel_threshold_dbfs: Annotated[float | None, Reading("dBFS", "Threshold of the parallel compressor that was tried.")]
    parallel_blend_db: Annotated[float | None, Reading("dB", "Blend at which the quiet parts rise and the peak does not.")]
    parallel_lift_db: Annotated[float | None, Reading("dB", "How much the quiet parts rise.")]
    parallel_peak_rise_db: Annotated[float | None, Reading("dB", "How much the peak rises.")]
    parallel_ratio: Annotated[float | None, Reading("", "Ratio of the parallel compressor; 6 dB knee.")] = None
    parallel_attack_ms: Annotated[float | None, Reading("ms", "Its attack.")] = None
    parallel_release_ms: Annotated[float | None, Reading("ms", "Its release.")] = None


@dataclass(frozen=True, slots=True)
class KickAndBass:
    """What happens where kick and bass sound together."""

    kick: Annotated[str, Reading("", "The kick.")]
    bass: Annotated[str, Reading("", "The bass.")]
    sum_gain_db: Annotated[
        float, Reading("dB", "Power of both together over the sum of their powers below 150 Hz, at the kicks; 0 = unrelated.")
    ]
    hits: Annotated[int, Reading("", "Kicks under which the bass plays.")]
    flipped_gain_db: Annotated[float, Reading("dB", "The same with the bass's polarity reversed.")]
    best_delay_ms: Annotated[float, Reading("ms", "Delay of the bass at which they sum best.")]
    best_gain_db: Annotated[float, Reading("dB", "The sum's gain at that delay.")]
    kick_audible_share: Annotated[float | None, Reading("0-1", "Share of the kick below 150 Hz that stays audible over the bass.")]
    overlap: Annotated[float | None, Reading("0-1", "Overlap of their spectra below 200 Hz.")]
    where: Annotated[tuple[Span, ...], Reading("s", "Where they cancel most.")]
    gain_spread_db: Annotated[float | None, Reading("dB", "Standard deviation of the sum's gain between kicks.")] = None
    flip_helps_share: Annotated[float | None, Reading("0-1", "Share of the kicks at which reversed polarity sums better.")] = None
    kick_left_db: Annotated[
        float | None, Reading("dB", "What is left of the kick below 150 Hz with what the bass holds of its wave added; 0 = all of it.")
    ] = None
    kick_flipped_db: Annotated[float | None, Reading("dB", "The same with the bass's polarity reversed.")] = None


@dataclass(frozen=True, slots=True)
class Elements(Measurement):
    """All elements of the song. There are none without stems."""

    elements: Annotated[tuple[Element, ...], Reading("", "One for each stem.")]
    mixture: Annotated[Mixture, Reading("", "How well the stems sum to the mix.")]
    groups: Annotated[tuple[ElementGroup, ...], Reading("", "The groups that have members.")]
    kick_and_bass: Annotated[KickAndBass | None, Reading("", "Where kick and bass sound together; None without both.")]
    closeness_db: Annotated[
        float | None, Reading("dB", "Span of the main elements' loudness against the mix while they play, loudest minus softest.")
    ]
    main: Annotated[tuple[str, ...], Reading("", "The main elements: they play much of the song and are neither hats nor effects.")]
    lead: Annotated[str | None, Reading("", "The lead, where one is known.")]
    lead_lu: Annotated[float | None, Reading("LU", "Loudness of the lead minus the mix's while the lead plays.")]
    moves: Annotated[
        tuple[LevelMove, ...],
        Reading("", "The few faders that likely lie off, by the levels of all elements together, the likeliest first; often none."),
    ] = ()
    front: Annotated[tuple[str, ...], Reading("", "What the user put in front, in order; empty where nothing was stated.")] = ()

    def named(self, name: str) -> Element | None:
        """Return the element called ``name``."""
        return next((element for element in self.elements if element.name == name), None)


@dataclass(frozen=True, slots=True)
class ElementShare:
    """An element's share of a reading, 0-1."""

    name: str
    share: float


@dataclass(frozen=True, slots=True)
class Attribution:
    """What a finding about the mix is laid on.

    Attributes
    ----------
    carrier
        ``element``: the first of ``shares`` has most of it; ``several``: those named have; ``sum``: no element has much of it;
        ``left over``: it lies in what the stems leave of the mix.
    shares
        Elements with a share worth naming, largest first.
    left_over
        Share of what the stems leave of the mix.
    """

    carrier: Carrier
    shares: tuple[ElementShare, ...]
    left_over: float

    @property
    def element(self) -> str | None:
        """Return the element that carries most of it, if any."""
        return self.shares[0].name if self.carrier == "element" else None
