"""Write the README's pictures, docs/pictures/*.svg, out of a report on the demo's first bounce.

python docs/make_pictures.py                  make the demo song, critique it, and draw (about a minute)
python docs/make_pictures.py REPORT.json      draw from a report that is there already
"""

import sys
import tempfile
from pathlib import Path
from xml.etree.ElementTree import Element, fromstring, tostring

from advisor.app.settings import Settings
from advisor.critique import critique
from advisor.pictures.colours import PAPER, style
from advisor.pictures.discovery import pictures_of
from advisor.pictures.picture import Picture
from advisor.report_model.codec import from_json
from advisor.report_model.report import Report
from demo.write import write_demo

FOLDER = Path(__file__).parent / "pictures"
SHOWN = ("outlook", "spectrum", "song_over_time")
SPACING = 10.0  # around a picture that stands on its own


def demo_report() -> Report:
    """Return the report on the demo's first bounce."""
    with tempfile.TemporaryDirectory() as folder:
        paths = write_demo(Path(folder), lambda _words: None)
        return critique(paths.bounce_a, Settings(audition=False), Path(folder) / "report").report


def standalone(picture: Picture) -> str:
    """Return a picture as a file, with the colours and the paper that a page would give it."""
    root = fromstring(picture.svg)  # noqa: S314 - our own drawing
    width, height = (float(side) for side in root.attrib["viewBox"].split()[2:])
    box = {"x": str(-SPACING), "y": str(-SPACING), "width": f"{width + 2 * SPACING:g}", "height": f"{height + 2 * SPACING:g}"}
    root.attrib.update(xmlns="http://www.w3.org/2000/svg", viewBox=" ".join(box.values()), width=box["width"], height=box["height"])
    look = Element("style")
    look.text = f"{style('svg')}\nsvg {{ font-family: system-ui, sans-serif; }}"
    root.insert(0, look)
    root.insert(1, Element("rect", {**box, "fill": PAPER.variable}))
    return f"{tostring(root, encoding='unicode')}\n"


def main(arguments: list[str]) -> None:
    """Draw the pictures and write them."""
    report = from_json(Report, Path(arguments[0]).read_bytes()) if arguments else demo_report()
    pictures = {picture.name: picture for picture in pictures_of(report)}
    FOLDER.mkdir(exist_ok=True)
    for name in SHOWN:
        (FOLDER / f"{name}.svg").write_text(standalone(pictures[name]), encoding="utf-8")
        print(f"docs/pictures/{name}.svg: {pictures[name].alternative}")


if __name__ == "__main__":
    main(sys.argv[1:])
