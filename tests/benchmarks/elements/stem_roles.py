"""How often the sound alone tells what a stem plays: role by name beside role by sound with the name hidden.

usage: python -m tests.benchmarks.elements.stem_roles --songs DIR     (DIR/SONG/stems/*.flac)
"""

import argparse
from pathlib import Path

from advisor.stems.roles import Traits, role_by_name, role_by_sound, traits
from features.mixture.stem_products import Sketch, StemProductsMeter
from features.records.elements import Role
from features.sound.load import open_source

BY_SOUND: dict[Role, Role] = {"snare": "drums", "percussion": "drums", "drums": "drums", "kick": "kick", "bass": "bass", "hats": "hats"}


def sketched(path: Path) -> Sketch:
    with open_source(path, memory_bytes=0, hashed=False) as opened:
        meter = StemProductsMeter(opened.source.rate_hz, [opened.source.channels])
        for block in opened.source.blocks():
            meter.push([block])
        return meter.finish().sketches[0]


def numbers_of(its: Traits) -> str:
    shares = f"{its.below_250_hz:5.2f} {its.above_2_khz:4.2f} {its.above_4_khz:4.2f}"
    return f"{shares} {its.attacks_per_s:6.1f} {its.rise_db:5.1f} {its.fall_db:5.1f}"


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--songs", type=Path, required=True)
    songs = parser.parse_args().songs
    named: dict[Role, list[bool]] = {}
    print(f"{'song':14} {'stem':26} {'by name':12} {'by sound':9} hit   <250  >2k  >4k  att/s  rise  fall")
    for path in sorted(songs.glob("*/stems/*.flac")):
        sketch = sketched(path)
        by_name, by_sound, its = role_by_name(path.stem), role_by_sound(sketch), traits(sketch)
        hit = ""
        if by_name is not None:
            expected = BY_SOUND.get(by_name, "other")
            named.setdefault(expected, []).append(expected == by_sound)
            hit = "yes" if expected == by_sound else "NO"
        numbers = "" if its is None else numbers_of(its)
        print(f"{path.parts[-3]:14} {path.stem[:26]:26} {by_name or '-':12} {by_sound:9} {hit:4} {numbers}")
    for role, hits in named.items():
        print(f"{role:6} {sum(hits)} of {len(hits)}")
    total = [hit for hits in named.values() for hit in hits]
    print(f"all    {sum(total)} of {len(total)}")


if __name__ == "__main__":
    main()
