"""What a reading is about: times and a band."""

from dataclasses import dataclass

from features.records.base import Span
from features.records.elements import Sharing


@dataclass(frozen=True, slots=True)
class About:
    """A reading to be shared out.

    How, at which times, and in which band in Hz.     No band stands for the whole spectrum.
    """

    sharing: Sharing
    where: tuple[Span, ...] = ()
    band_hz: tuple[float, float] | None = None
