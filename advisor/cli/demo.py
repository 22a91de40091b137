"""`mixproof demo`: a song of our own, critiqued twice."""

from datetime import UTC, datetime
from pathlib import Path
from shlex import quote
from typing import Annotated

import typer

from advisor.cli.common import progress, show
from advisor.store.home import VARIABLE

PROJECT = "Harbour of Small Lights"


def command(
    out: Annotated[Path, typer.Option(help="Folder for the song and its report.")] = Path("demo-song"),
    quick: Annotated[bool, typer.Option("--quick", help="Measure and judge only; try nothing on the audio.")] = False,
) -> int:
    """Make a demo song with planted faults and critique it.

    Both of its bounces are critiqued; the last lines say where the reports are.
    """
    from advisor.app.settings import load_settings
    from advisor.cli.critique import first_words, print_summary
    from advisor.report.files import check_writable
    from demo.write import write_demo

    check_writable(out)
    line = progress()
    show("Making a demo song: stems, two bounces and six references (about half a minute) ...")
    paths = write_demo(out, lambda words: line.step(words.capitalize()))
    line.step("")
    from advisor.critique import CritiqueInputs, critique
    from advisor.history.recorder import Recorder

    bounces = (
        ("bounce A", paths.bounce_a, "with planted faults"),
        ("bounce B", paths.bounce_b, "with most of them fixed, compared with bounce A"),
    )
    for name, bounce, what in bounces:
        project = Recorder(PROJECT, lambda: datetime.now(UTC), paths.history)
        done = critique(bounce, load_settings([out], {"quick": quick}), None, line, first_words(), CritiqueInputs(project=project))
        show()
        show(f"The critique of {name} ({bounce}), {what}:")
        show()
        print_summary(done.report, done.folder)
    show()
    show("The same with its stems, and against the references:")
    show(f"  mixproof critique {quote(str(paths.bounce_a))} --stems {quote(str(paths.stems))} --references {quote(str(paths.references))}")
    show(f"What was advised and what came of it, for both: {VARIABLE}={quote(str(paths.history))} mixproof history {quote(PROJECT)}")
    return 0
