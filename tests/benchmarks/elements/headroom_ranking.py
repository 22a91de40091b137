"""Whether what each element costs in headroom, told from the densest stretch, agrees with muting each element over the whole song.

    python -m tests.benchmarks.elements.headroom_ranking --songs DIR [--only SONG ...]

DIR/SONG/stems/*.flac. Brute force: each element muted in turn, the limiter outlook run anew over the whole song, on its own densest
stretch, with its own hits; what is won in clean loudness against the song as it is. Told: `lu_out` of the critique, which mutes on the
densest stretch of the unchanged song. Printed: Spearman's rank correlation, whether the first agrees (or lies within 0.2 LU of it), and the
difference.
"""

import argparse
from pathlib import Path

import numpy as np
from scipy.stats import spearmanr

from advisor.app.progress import Quiet
from advisor.app.settings import Settings
from advisor.app.yardstick import yardstick_of
from advisor.material import attach_stems, open_material
from advisor.measuring.measure import measure, measure_again
from advisor.sources.aligned import Summed
from features.records.elements import Elements
from features.records.outlook import Outlook

AS_GOOD_LU = 0.2


def show(song: Path) -> tuple[float, bool] | None:
    settings = Settings()
    with open_material(None, song / "stems", Quiet()) as material:
        assert material.stems is not None
        measured = measure(material.source, material.file, material.not_finite, yardstick_of(settings), Quiet())
        measured, _ = attach_stems(material, measured, yardstick_of(settings), Quiet())
        elements, outlook = measured.records[Elements], measured.records[Outlook]
        assert isinstance(elements, Elements)
        assert isinstance(outlook, Outlook)
        answers, truth = [], []
        for element in elements.elements:
            others = [stem.source for stem in material.stems.stems if stem.name != element.name]
            if element.headroom is None or element.headroom.lu_out is None or outlook.clean_lufs is None:
                continue
            again = measure_again(Summed(others, material.stems.channels), yardstick_of(settings), Quiet()).records[Outlook]
            assert isinstance(again, Outlook)
            if again.clean_lufs is not None:
                answers.append((element.headroom.lu_out, element.name))
                truth.append(again.clean_lufs - outlook.clean_lufs)
    if len(answers) < 3:
        print(f"{song.name:15s} too few elements")
        return None
    lu_out = [answer[0] for answer in answers]
    rank = float(spearmanr(lu_out, truth).statistic)
    first = int(np.argmax(lu_out))
    agrees = truth[first] >= max(truth) - AS_GOOD_LU
    error = float(np.mean(np.abs(np.array(lu_out) - truth)))
    rows = sorted(zip(answers, truth, strict=True), reverse=True)
    print(
        f"{song.name:15s} Spearman {rank:+.2f}, first {'agrees' if agrees else 'differs'}, mean difference {error:.2f} LU: "
        + ", ".join(f"{name} {out:+.1f}/{real:+.1f}" for (out, name), real in rows)
    )
    return rank, agrees


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--songs", type=Path, required=True)
    parser.add_argument("--only", nargs="*", default=())
    given = parser.parse_args()
    songs = sorted(path for path in given.songs.iterdir() if (path / "stems").is_dir() and (not given.only or path.name in given.only))
    done = [row for row in map(show, songs) if row is not None]
    print(f"mean Spearman {np.mean([rank for rank, _ in done]):.2f}; first agrees in {sum(agrees for _, agrees in done)} of {len(done)}")


if __name__ == "__main__":
    main()
