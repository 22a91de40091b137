"""The colours of the pictures, for light and dark paper."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Colour:
    """A colour by its job, for light and dark paper."""

    name: str
    light: str
    dark: str

    @property
    def variable(self) -> str:
        """Return the CSS that asks the page for it.

        >>> Colour("song", "#17608a", "#86c5ea").variable
        'var(--picture-song)'
        """
        return f"var(--picture-{self.name})"


PAPER = Colour("paper", "#fcfbf8", "#16181d")  # what all of it lies on
INK = Colour("ink", "#1d2330", "#e7e4dc")  # words that name things
QUIET = Colour("quiet", "#5a6070", "#a9adb8")  # scales, and what is there to compare with
GRID = Colour("grid", "#dedad0", "#343841")  # lines that only guide the eye
AREA = Colour("area", "#e6e2d7", "#2b2f38")  # where songs usually lie
SONG = Colour("song", "#17608a", "#86c5ea")  # this song
MARK = Colour("mark", "#9c3d12", "#f2a27a")  # what a finding is about
COLOURS = (PAPER, INK, QUIET, GRID, AREA, SONG, MARK)


def style(scope: str) -> str:
    """Return the CSS that sets the colours below a selector.

    Dark where the reader's system is; print is always light.
    """
    light, dark = (" ".join(f"--picture-{colour.name}: {getattr(colour, paper)};" for colour in COLOURS) for paper in ("light", "dark"))
    return f"{scope} {{ {light} }}\n@media screen and (prefers-color-scheme: dark) {{ {scope} {{ {dark} }} }}"
