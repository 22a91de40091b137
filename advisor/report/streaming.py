"""Says what loudness normalisation makes of a song.

For several sections.
"""

from collections.abc import Sequence
from dataclasses import dataclass

from features.records.mastering import Normalised


@dataclass(frozen=True, slots=True)
class StreamingWords:
    """What a listener gets at each level, with remarks."""

    views: tuple[tuple[Normalised, str], ...]
    turned_down: bool
    falls_short: bool


def streaming_words(views: Sequence[Normalised]) -> StreamingWords:
    """Return the words of the table and its remarks."""
    return StreamingWords(
        views=tuple((view, _moved(view.gain_db)) for view in views),
        turned_down=any(-view.gain_db >= 0.05 for view in views),
        falls_short=any(view.reached_lufs < view.target_lufs - 0.05 for view in views),
    )


def _moved(gain_db: float) -> str:
    return "left as it is" if abs(gain_db) < 0.05 else f"turned {'up' if gain_db > 0 else 'down'} by {abs(gain_db):.1f} dB"
