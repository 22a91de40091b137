"""What is said about stems that needed something to fit.

One plain sentence each.
"""

from collections import Counter, defaultdict
from collections.abc import Sequence
from math import log10

from advisor.sources.aligned import Aligned
from advisor.stems.files import StemFiles
from features.mixture.fit import Fit, Flags, gain_db, is_mono
from features.mixture.stem_products import StemProducts
from features.sound.clock import clock
from features.sound.signal import Source

LENGTH_S = 1.0
LONGER_S = 0.05
MOST_NAMED = 4


def listed(names: Sequence[str]) -> str:
    """Return names as a list in a sentence.

    Of many only the first few.
    """
    shown = [f"“{name}”" for name in names[:MOST_NAMED]]
    if len(names) > MOST_NAMED:
        return f"{', '.join(shown)} and {len(names) - MOST_NAMED} more"
    return " and ".join([", ".join(shown[:-1]), shown[-1]]) if len(shown) > 1 else shown[0]


def rates(files: StemFiles, rate_hz: int, *, with_mix: bool) -> list[str]:
    """Name the stems at other rates."""
    others: dict[int, list[str]] = defaultdict(list)
    for name, sound in zip(files.names, files.opened, strict=True):
        if sound.source.rate_hz != rate_hz:
            others[sound.source.rate_hz].append(name)
    whose = "your mix" if with_mix else "most stems"
    return [
        f"{listed(names)} {_is(names)} at {rate} Hz and {_was(names)} brought to the {rate_hz} Hz of {whose}."
        for rate, names in sorted(others.items())
    ]


def lengths(files: StemFiles, mix: Source | None, silent: Flags) -> list[str]:
    """Say when lengths differ or pass the mix's end.

    Of stems with sound alone.
    """
    lasting = {
        name: sound.source.frames / sound.source.rate_hz
        for name, sound, quiet in zip(files.names, files.opened, silent, strict=True)
        if not quiet
    }
    shortest, longest = min(lasting.values()), max(lasting.values())
    said = []
    if longest - shortest > LENGTH_S:
        said.append(f"The stems differ in length ({clock(shortest)} to {clock(longest)}); a shorter one was taken as silent after its end.")
    if mix is not None:
        end = mix.frames / mix.rate_hz
        late = [name for name, length in lasting.items() if length > end + LONGER_S]
        if late:
            said.append(
                f"{listed(late)} {_is(late)} longer than your mix (by up to {longest - end:.1f} s); what lies after its end was left out."
            )
    return said


def silences(names: Sequence[str], silent: Flags) -> list[str]:
    """Name the stems without sound."""
    quiet = [name for name, is_silent in zip(names, silent, strict=True) if is_silent]
    return [f"{listed(quiet)} {'holds' if len(quiet) == 1 else 'hold'} no sound."] if quiet else []


def copies(names: Sequence[str], originals: Sequence[int | None], trace: StemProducts, used: Flags) -> list[str]:
    """Name the stems that are copies, with their level.

    Against the original.
    """
    said = []
    energy = trace.total.diagonal()
    for number, original in enumerate(originals):
        if original is None or not used[number] or not used[original]:
            continue
        level = 10 * log10(float(energy[number] / energy[original]))
        how = "the same sound" if abs(level) < 0.05 else f"the same sound at {level:+.1f} dB"
        what = f"a copy of “{names[original]}” ({how})" if _same_width(trace, number, original) else f"the mono twin of “{names[original]}”"
        said.append(f"“{names[number]}” is {what}; if that is no doubling you meant, leave one out.")
    return said


def _same_width(trace: StemProducts, number: int, other: int) -> bool:
    return is_mono(trace, number) == is_mono(trace, other)


def own_gains(names: Sequence[str], fit: Fit) -> list[str]:
    """Name the stems at another fader in the mix.

    Or upside down.
    """
    said = []
    for number in fit.own:
        change = gain_db(fit.gains[number] / fit.common)
        if fit.gains[number] < 0:
            said.append(f"“{names[number]}” stands in your mix with its polarity reversed, at {change:+.1f} dB; it is used that way.")
        else:
            way = "higher" if change > 0 else "lower"
            said.append(f"“{names[number]}” stands {abs(change):.1f} dB {way} in your mix than in its stem; the level in the mix is used.")
    return said


def offsets(names: Sequence[str], placed: Sequence[Aligned], used: Flags) -> list[str]:
    """Name what was moved: all stems together, then single ones."""
    rate = placed[0].rate_hz
    moved = [(name, stem.offset_frames) for name, stem, its in zip(names, placed, used, strict=True) if its]
    common, often = Counter(frames for _, frames in moved).most_common(1)[0]
    said = []
    if common and often > 1:
        said.append(f"The stems start {_late(-common, rate)} your mix; they were moved to fit.")
    usual = common if often > 1 else 0
    said += [f"“{name}” was moved {_way(frames, rate)} to fit your mix." for name, frames in moved if frames != usual]
    return said


def is_the_mix(name: str) -> str:
    """Say that a stem is the mix."""
    return f"“{name}” is your mix itself and lies among the stems; it was left out."


def is_nearly_the_mix(name: str) -> str:
    """Say that a stem is a processed mix."""
    return f"“{name}” is nearly the sum of all other stems (a processed mix?); it was left out, since everything would count twice."


def is_a_sum(name: str, parts: Sequence[str], *, everything: bool) -> str:
    """Say that a stem is the sum of others."""
    what = "all other stems (the full mix among the stems)" if everything else listed(parts)
    return f"“{name}” is the sum of {what}; it was left out, since they would count twice."


def is_a_copy(name: str, original: str) -> str:
    """Say that a copy is not in the mix."""
    return f"“{name}” is a copy of “{original}”, and your mix holds that sound only once; it was left out."


def is_not_heard(names: Sequence[str]) -> str:
    """Say that stems are not in the mix."""
    return f"{listed(names)} {_is(names)} not heard in your mix (muted there?) and {_was(names)} left out."


def _late(frames: int, rate_hz: int) -> str:
    return f"{_time(abs(frames), rate_hz)} {'after' if frames > 0 else 'before'}"


def _way(frames: int, rate_hz: int) -> str:
    return f"{_time(abs(frames), rate_hz)} {'later' if frames > 0 else 'earlier'}"


def _time(frames: int, rate_hz: int) -> str:
    seconds = frames / rate_hz
    return f"{seconds:.2f} s" if seconds >= 1.0 else f"{1000 * seconds:.1f} ms"


def _is(names: Sequence[str]) -> str:
    return "is" if len(names) == 1 else "are"


def _was(names: Sequence[str]) -> str:
    return "was" if len(names) == 1 else "were"
