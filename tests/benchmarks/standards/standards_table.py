"""Print every case of the loudness standards: expected, tolerance, measured, pass.

Run ``python -m tests.benchmarks.standards.standards_table [FOLDER]`` from the repository's root. With a folder of songs, each is also
measured with ffmpeg's meter (where installed) and both readings are printed beside each other.
"""

import re
import shutil
import subprocess
import sys
from pathlib import Path

from features.loudness.level import LevelMeter, measure_level
from features.sound.load import LoadError, open_source
from tests.reference import standard_cases
from tests.reference.standard_cases import Case


def print_table(title: str, cases: list[Case]) -> int:
    print(f"\n{title}\n{'case':<26} {'expected':>18} {'tolerance':>12} {'measured':>18}  pass")
    failed = 0
    for case in cases:
        readings = case.readings()
        measured = [got for _, got, _ in readings]
        passed = all(agrees for _, _, agrees in readings)
        failed += not passed
        print(
            f"{case.name:<26} {_span(list(case.expected), 1):>18} {f'-{case.below}/+{case.above}':>12} "
            f"{_span(measured, 3):>18}  {'yes' if passed else 'NO'}  {case.unit}"
        )
    return failed


def _span(values: list[float], digits: int) -> str:
    low, high = min(values), max(values)
    return f"{low:.{digits}f}" if high - low < 0.5 * 10**-digits else f"{low:.{digits}f}…{high:.{digits}f}"


def measured_here(path: Path) -> tuple[float | None, ...]:
    with open_source(path) as opened:
        meter = LevelMeter(opened.source.rate_hz, opened.source.channels)
        for block in opened.source.blocks():
            meter.push(block)
    level = measure_level(meter.finish())
    return level.integrated_lufs, level.loudness_range_lu, level.true_peak_dbtp


def measured_by_ffmpeg(path: Path) -> tuple[float, ...]:
    command = [
        "ffmpeg",
        "-nostdin",
        "-hide_banner",
        "-i",
        str(path),
        "-map",
        "0:a:0",
        "-af",
        "ebur128=peak=true:framelog=verbose",
        "-f",
        "null",
        "-",
    ]
    said = subprocess.run(command, capture_output=True, text=True, check=True).stderr
    summary = said[said.rindex("Summary:") :]
    return tuple(float(re.findall(rf"{name}:\s+(-?[\d.]+)", summary)[0]) for name in ("I", "LRA", "Peak"))


def compare_songs(folder: Path) -> None:
    print(f"\n{'song':<40} I, LRA, true peak here / by ffmpeg (its loudness in steps of 0.1)")
    for path in sorted(folder.rglob("*")):
        if path.suffix.lower() not in {".wav", ".flac", ".ogg", ".mp3", ".aiff"}:
            continue
        try:
            here = " ".join(f"{value:7.2f}" if value is not None else "      –" for value in measured_here(path))
        except LoadError as error:
            print(error)
            continue
        there = " ".join(f"{value:6.1f}" for value in measured_by_ffmpeg(path)) if shutil.which("ffmpeg") else ""
        print(f"{path.name:<40} {here} / {there}")


def main() -> int:
    failed = print_table("EBU Tech 3341 (2023)", standard_cases.ebu_tech_3341())
    failed += print_table("EBU Tech 3342 (2023)", standard_cases.ebu_tech_3342())
    failed += print_table("Report ITU-R BS.2217-2 (2016)", standard_cases.itu_bs_2217())
    print(f"\n{failed} failed. Not made here: see {Path(standard_cases.__file__).name}.")
    for folder in sys.argv[1:]:
        compare_songs(Path(folder))
    return 1 if failed else 0


if __name__ == "__main__":
    sys.exit(main())
