"""What the ear gets, here and elsewhere."""

from dataclasses import dataclass
from typing import Annotated

from features.records.base import Course, Measurement, Moment, Reading


@dataclass(frozen=True, slots=True)
class Ear(Measurement):
    """Loudness in the ear's most sensitive band.

    It is 2-5 kHz; the readings are shares of what is heard (ISO 226 weighted ERB loudness).
    """

    share_2k_5k: Annotated[
        float | None,
        Reading(
            "0-1",
            "Share of the ERB-band loudness that lies in 2-5 kHz.",
            name="Ear-sensitive band",
            words="share of the ear's sensitive band",
            digits=2,
            in_table=True,
            step=0.01,
            in_history=True,
        ),
    ]
    erb_hz: Annotated[tuple[float, ...], Reading("Hz", "Centres of the ERB bands.")]
    erb_loudness_share: Annotated[tuple[float, ...], Reading("0-1", "Share of loudness per ERB band; sums to 1.")]
    share: Annotated[Course, Reading("0-1", "Share of 2-5 kHz over time, stepped at 0.5 s.")]
    harsh_moments: Annotated[tuple[Moment, ...], Reading("0-1", "Loud stretches clearly above the song's own median, worst first.")]


@dataclass(frozen=True, slots=True)
class ElementElsewhere:
    """What is left of an element in a listening condition."""

    name: Annotated[str, Reading("", "The element.")]
    audible_share: Annotated[float, Reading("0-1", "Share of its loudness on full-range speakers that is audible there.")]
    desk_share: Annotated[float, Reading("0-1", "Share of it that is audible on full-range speakers, over the same stretches.")]
    main: Annotated[bool, Reading("", "Whether it is one of the main elements.")]
    mono_loss_db: Annotated[float | None, Reading("dB", "K-weighted level it loses in mono there; None where it is played in stereo.")] = (
        None
    )
    low_mono_loss_db: Annotated[float | None, Reading("dB", "What mono takes from it below 120 Hz there; None as above.")] = None
    low_lost_share: Annotated[
        float | None, Reading("0-1", "Its part of what all elements lose in mono below 120 Hz there; None where that is nothing.")
    ] = None

    @property
    def kept(self) -> float:
        """What is left there, against the desk."""
        return self.audible_share / self.desk_share if self.desk_share > 0.0 else 1.0


@dataclass(frozen=True, slots=True)
class SongElsewhere:
    """What is left of the song in a listening condition."""

    condition: Annotated[str, Reading("", "The condition's key, as in --elsewhere.")]
    name: Annotated[str, Reading("", "The condition in words.")]
    place: Annotated[str, Reading("", "The same inside a sentence.")]
    mono: Annotated[bool, Reading("", "Whether it plays all of the song in mono.")]
    loudness_lu: Annotated[float, Reading("LU", "How much louder or softer the song is than on full-range speakers at the same gain.")]
    usual_lu: Annotated[float, Reading("LU", "The same of the references, or of songs in general.")]
    spread_lu: Annotated[float, Reading("LU", "Standard deviation of that between songs.")]
    audible_share: Annotated[float, Reading("0-1", "Share of the song's loudness that stands above the noise and the threshold there.")]
    usual_share: Annotated[float, Reading("0-1", "The same of the references, or of songs in general.")]
    hits_share: Annotated[float | None, Reading("0-1", "Audible share of the drum hits there; None without hits.")]
    low_mono_loss_db: Annotated[float | None, Reading("dB", "What mono takes from the song below 120 Hz there; None where it is stereo.")]
    elements: Annotated[tuple[ElementElsewhere, ...], Reading("", "The elements, least audible first; none without stems.")] = ()

    @property
    def least_audible(self) -> ElementElsewhere | None:
        """The main element that keeps least of itself."""
        return min((element for element in self.elements if element.main), key=lambda element: element.kept, default=None)

    @property
    def unusual(self) -> float:
        """How many spreads it is softer than other songs are."""
        return (self.usual_lu - self.loudness_lu) / self.spread_lu


@dataclass(frozen=True, slots=True)
class Elsewhere(Measurement):
    """The song on other speakers and in other places."""

    songs: Annotated[int, Reading("", "Number of references it is compared with; 0 for songs in general.")]
    conditions: Annotated[tuple[SongElsewhere, ...], Reading("", "One for each listening condition that was chosen.")]

    def named(self, condition: str) -> SongElsewhere | None:
        """Return what is left in one condition, by its key."""
        return next((there for there in self.conditions if there.condition == condition), None)
