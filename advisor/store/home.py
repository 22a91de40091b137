"""Where the user's data lies.

`MIXPROOF_HOME`, or the folder the system keeps such data in.
"""

import os
from pathlib import Path

import platformdirs

VARIABLE = "MIXPROOF_HOME"


def home() -> Path:
    """Return the folder of the user's data.

    It need not exist yet.
    """
    chosen = os.environ.get(VARIABLE)
    return Path(chosen).expanduser().absolute() if chosen else Path(platformdirs.user_data_dir("mixproof", appauthor=False))
