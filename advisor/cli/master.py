"""`mixproof master`: a finished master against its mix.

And before its release.
"""

from pathlib import Path
from typing import Annotated, Literal

import typer

from advisor.cli.common import progress, settings_folders, show


def command(
    master: Annotated[Path, typer.Argument(help="The finished master.")],
    mix: Annotated[
        Path | None, typer.Option(help="The mix it was made from; without it, the file alone is checked for its release.")
    ] = None,
    ceiling: Annotated[float | None, typer.Option(help="Highest true peak of the master, in dBTP (default -1).")] = None,
    out: Annotated[Path | None, typer.Option(help="Folder for the report (default: NAME-check beside the master).")] = None,
    fail_on: Annotated[
        Literal["mastering", "delivery"] | None,
        typer.Option(help="End with status 1 when something is found in this stage (for scripts)."),
    ] = None,
) -> int:
    """Compare a master with its mix, and check its release.

    Loudness won, punch and tone lost are compared, and the file is checked as it is.
    """
    from advisor.app.settings import load_settings
    from advisor.cli.critique import first_words
    from advisor.master_check import files
    from advisor.master_check.check import check_master
    from advisor.report.files import check_writable
    from advisor.report.sections.master.gains import essence

    settings = load_settings(settings_folders(master), {"ceiling_dbtp": ceiling})
    folder = files.default_folder(master) if out is None else out
    check_writable(folder)
    report = check_master(master, mix, settings, progress(), first_words()).report
    files.write(report, folder)
    for line in essence(report):
        show(line)
    show()
    show(f"The whole check: {folder / 'master-report.html'} (also master-report.md and master-report.json)")
    return int(fail_on is not None and any(finding.stage == fail_on for finding in report.findings))
