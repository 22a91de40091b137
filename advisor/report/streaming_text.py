"""What loudness normalisation makes of a song, in words."""

from collections.abc import Iterator, Sequence

from advisor.app.words import number
from features.records.mastering import Normalised


def streaming_text(views: Sequence[Normalised]) -> Iterator[str]:
    """Write what loudness normalisation makes of a song."""
    if not views:
        return
    yield "Where loudness is evened out, a listener gets:"
    yield ""
    yield "| evened out to | the song is | and plays at | its peaks | PSR |"
    yield "|---:|---|---:|---:|---:|"
    for one in views:
        gain = one.gain_db
        moved = "left as it is" if abs(gain) < 0.05 else f"turned {'up' if gain > 0 else 'down'} by {abs(gain):.1f} dB"
        yield (
            f"| {one.target_lufs:g} LUFS | {moved} | {number(one.reached_lufs)} LUFS | {number(one.true_peak_dbtp)} dBTP "
            f"| {number(one.psr_db, 1, 'dB')} |"
        )
    yield ""
    down = max((-one.gain_db for one in views), default=0.0)
    short = [one for one in views if one.reached_lufs < one.target_lufs - 0.05]
    if down >= 0.05:
        yield (
            "What is turned down was limited for nothing there: the peaks stay as low, and others with more peak over "
            "their body hit harder."
        )
        yield ""
    if short:
        yield "Turning up ends where the peaks reach -1 dBTP; a player that goes on puts its own limiter there."
        yield ""
