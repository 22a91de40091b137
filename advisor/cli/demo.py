"""`mixproof demo`: a song of our own, critiqued."""

from pathlib import Path
from typing import Annotated

import typer

from advisor.cli.common import progress, show


def command(
    out: Annotated[Path, typer.Option(help="Folder for the song and its report.")] = Path("demo-song"),
    quick: Annotated[bool, typer.Option("--quick", help="Measure and judge only; try nothing on the audio.")] = False,
) -> int:
    """Make a demo song with faults planted in it, critique its first bounce, and say where the report is."""
    from advisor.cli.critique import first_words, print_summary  # noqa: PLC0415 - keeps --help quick
    from advisor.config import load_settings  # noqa: PLC0415
    from advisor.demo.write import write_demo  # noqa: PLC0415
    from advisor.report.files import check_writable  # noqa: PLC0415

    check_writable(out)
    line = progress()
    show("Making a song of our own: stems, two bounces and six references (about half a minute) ...")
    paths = write_demo(out, lambda words: line.step(words.capitalize()))
    line.step("")
    from advisor.critique import critique  # noqa: PLC0415

    done = critique(paths.bounce_a, load_settings([out], {"quick": quick}), None, line, first_words())
    show(f"The critique of bounce A ({paths.bounce_a}), which has faults planted in it:")
    show()
    print_summary(done.report, done.folder)
    show(f"Bounce B, in which most of them are mended: mixproof critique {paths.bounce_b}")
    return 0
