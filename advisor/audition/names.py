"""Names of the files to listen to.

Safe on every system and in every link, whatever the song is called.
"""

import re
import unicodedata

FOLDER = "audition"
CLIP = re.compile(r"step-[1-9][0-9]{0,2}-(before|after)\.(flac|wav)")
PREVIEW = "preview-master.wav"
FADERS = "faders.csv"
MARKED = re.compile(r"[A-Za-z0-9][A-Za-z0-9._-]*-marked\.wav")
LONGEST_NAME = 60
LONGEST_LABEL = 60
_DASHES_AND_QUOTES = str.maketrans("‐‑‒–—−‘’“”′″", "------''\"\"'\"")


def clip_name(step: int, which: str, kind: str) -> str:
    """Return the file name of one clip, such as ``step-1-before.flac``."""
    return f"step-{step}-{which}.{kind}"


def marked_name(song: str) -> str:
    """Return the file name of a song's marked copy.

    >>> marked_name("Été <b>../n°5 🎛.wav"), marked_name("日本.flac"), marked_name("..wav")
    ('Ete-b-..-n-5-marked.wav', 'mix-marked.wav', 'mix-marked.wav')
    """
    stem, dot, _ = song.rpartition(".")
    words = re.sub(r"[^A-Za-z0-9._-]+", "-", _ascii(stem if dot else song))
    return f"{words.strip('._-')[:LONGEST_NAME].rstrip('._-') or 'mix'}-marked.wav"


def label(rank: int, title: str) -> str:
    """Return what a marker says.

    Rank and title in one short line that every program can show.

    >>> label(3, "Too much – around 98 Hz")
    '3. Too much - around 98 Hz'
    """
    line = f"{rank}. {' '.join(_ascii(title).split())}"
    return line if len(line) <= LONGEST_LABEL else f"{line[: LONGEST_LABEL - 3].rstrip()}..."


def _ascii(text: str) -> str:
    """Return the text in printable ASCII.

    Accents are dropped, what has no likeness becomes a space.
    """
    plain = unicodedata.normalize("NFKD", text.translate(_DASHES_AND_QUOTES))
    return "".join(char if " " <= char <= "~" else " " for char in plain if not unicodedata.combining(char))
