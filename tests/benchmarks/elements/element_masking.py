"""What is heard of each element of real songs, who hides the rest, and whether both follow the faders.

usage: element_masking.py --songs DIR        (DIR/SONG/stems/*.flac; nothing is read without it)

For each song: every element with its role, its loudness in the mix, the share of it that is heard, who hides most, in which band, by how
much, and the readings of the level plan. Then every element is moved from -12 to +6 dB: what is heard of it must rise, and
of the others fall. At last the shares with it 20 and 30 dB down, where hardly any element can be heard: they tell from which
share on an element counts as inaudible.
"""

import argparse
import time
from itertools import pairwise
from pathlib import Path

import numpy as np

from advisor.app.progress import Quiet
from advisor.stems.folder import open_stems
from features.elements.masking.masking import audible_shares
from features.elements.measure import measure_elements
from features.elements.meter import ElementTrace, trace_of
from features.records.elements import Element, Elements
from features.tone.target import general_target

GAINS_DB = (-12.0, -9.0, -6.0, -3.0, 0.0, 3.0, 6.0)
FAR_DB = (-10.0, -15.0, -20.0, -30.0)
WHOLE = 1 - 1e-9


def measured(song: Path) -> tuple[Elements, list[ElementTrace]]:
    """Return the elements of a folder of stems, taken as the whole mix, and their traces."""
    with open_stems(song / "stems", None, Quiet()) as stems:
        traces = {stem.name: trace_of(stem.source) for stem in stems.stems}
        mix = trace_of(stems.sum_source)
        identities = [stem.identity for stem in stems.stems]
        start = time.process_time()
        elements = measure_elements(identities, traces, mix, None, general_target().record, mixture=stems.mixture)
        print(f"\n{song.name}: {len(traces)} elements, {mix.duration_s:.0f} s, records in {time.process_time() - start:.2f} s of CPU")
        return elements, list(traces.values())


def number(value: float | None, width: int = 6, digits: int = 1) -> str:
    return " " * (width - 1) + "-" if value is None else f"{value:{width}.{digits}f}"


def row(element: Element) -> str:
    level, plan, covers = element.level, element.level_plan, element.masking.covered_by
    head = f"{element.name[:20]:20s} {element.role:10s} {number(level.in_mix_lu)} {number(level.while_playing_lu)} {level.plays_share:5.2f}"
    head += f" {number(element.masking.audible_share, 5, 2)} |"
    if covers:
        first = covers[0]
        band = f"{first.band_hz[0]:.0f}-{first.band_hz[1]:.0f} Hz"
        head += f" {first.share:.2f} {first.by[:16]:16s} {band:14s} {first.excess_db:5.1f} dB {'essential' if first.essential else '':9s}"
    else:
        head += " " * 57
    head += f" | {number(plan.over_pink_db)} {number(plan.pink_fader_db)} {number(plan.over_target_db)} {number(plan.target_fader_db)}"
    return head + f" {number(plan.stands_out_db)}"


def shares_at(traces: list[ElementTrace], element: int, gain_db: float) -> list[float]:
    gains = [gain_db if number == element else 0.0 for number in range(len(traces))]
    return [0.0 if share is None else share for share in audible_shares(traces, None, gains)]


def moved(traces: list[ElementTrace]) -> tuple[int, int, int]:
    """Count the steps taken, those in which the element was not heard more, and those in which another was heard more."""
    steps = not_rising = rising = 0
    for element, trace in enumerate(traces):
        if trace.silent:
            continue
        shares = np.array([shares_at(traces, element, gain) for gain in GAINS_DB])
        for before, after in pairwise(shares):
            steps += 1
            not_rising += int(after[element] <= before[element] < WHOLE)
            others = np.delete(after - before, element)
            rising += int(np.count_nonzero(others > 1e-9))
    return steps, not_rising, rising


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--songs", type=Path, required=True)
    songs = sorted(path for path in parser.parse_args().songs.iterdir() if (path / "stems").is_dir())
    counts = np.zeros(3, np.int64)
    far: list[list[float]] = []
    now: list[float] = []
    for song in songs:
        elements, traces = measured(song)
        print("element              role       in mix  plays  share heard | who hides most of it, and where                          "
              " | over pink, fader, over target, fader, stands out")  # fmt: skip
        print("\n".join(row(element) for element in elements.elements))
        lead = "" if elements.lead_lu is None else f"; lead {elements.lead} at {elements.lead_lu:.1f} LU"
        print(f"main: {', '.join(elements.main)}, within {number(elements.closeness_db, 0)} dB{lead}")
        counts += moved(traces)
        for element, measured_element in enumerate(elements.elements):
            if measured_element.masking.audible_share is not None:
                now.append(measured_element.masking.audible_share)
                far.append([shares_at(traces, element, gain)[element] for gain in FAR_DB])
    print(
        f"\n{counts[0]} steps of a fader: {counts[1]} in which the element was not heard more, {counts[2]} in which another was heard more"
    )
    print(f"share heard as they are: lowest {', '.join(f'{share:.2f}' for share in sorted(now)[:6])}; median {np.median(now):.2f}")
    for column, gain in enumerate(FAR_DB):
        shares = np.array(far)[:, column]
        below = ", ".join(f"{np.mean(shares < limit):.0%} below {limit}" for limit in (0.05, 0.1, 0.15, 0.2))
        print(f"{gain:5.0f} dB: median {np.median(shares):.2f}, {below}; as they are {np.mean(np.array(now) < 0.1):.0%} lie below 0.1")


if __name__ == "__main__":
    main()
