"""
Build docs/pictures anew and put what each picture says into docs/gallery.md and README.

Run from a checkout after a change that moves figures on purpose, and read the
difference: ``python docs/studies/refresh_pictures.py``.
"""

import json
import re
import subprocess
import sys
from pathlib import Path
from xml.etree import ElementTree

ROOT = Path(__file__).parents[2]
PICTURES = ROOT / "docs" / "pictures"
ASKED = ["tonight", "--date", "2026-12-05T00:00Z", "--r12", "60", "--json"]
"""Of the demonstration: the page that the first table of ten questions is about."""

TITLE = "{http://www.w3.org/2000/svg}title"


def answered(text, found):
    """Put what changes with the figures of ASKED into the table of ten questions."""
    hours = found["answer"][0]["hours"]
    noon = hours[12]
    change = next(each for each in hours[13:] if each["band"] != noon["band"])
    for question, answer in (
        ("Which band am I to be on at 12Z?", noon["band"]),
        ("How often does that work?", f"{10 * noon['chance']:.0f} days in 10"),
        (
            "When do I change band next?",
            f"at {change['utc'][11:13]}Z, to {change['band']}",
        ),
    ):
        row = rf"(?<=^\| {re.escape(question)} \| )[^|]*(?= \|)"
        text, count = re.subn(row, answer, text, flags=re.MULTILINE)
        assert count == 1, question
    return text


def main():
    subprocess.run(
        [sys.executable, "-m", "advisor", "gallery", "--no-cache", "--overwrite",
         "--output", PICTURES],
        cwd=ROOT,
        check=True,
    )  # fmt: skip
    said = subprocess.run(
        [sys.executable, "-m", "advisor", *ASKED, "--no-cache"],
        cwd=ROOT,
        check=True,
        capture_output=True,
    ).stdout
    gallery = ROOT / "docs" / "gallery.md"
    text = answered(gallery.read_text(encoding="utf-8"), json.loads(said))
    gallery.write_text(text, encoding="utf-8")
    for page in (gallery, ROOT / "README.md"):
        text = page.read_text(encoding="utf-8")
        for picture in sorted(PICTURES.glob("*.svg")):
            said = ElementTree.parse(picture).getroot().find(TITLE).text
            name = re.escape(picture.name)
            text = re.sub(
                rf"!\[[^\]]*\](?=\((?:docs/)?pictures/{name}\))",
                lambda _, said=said: f"![{said}]",
                text,
            )
            text = re.sub(
                rf'(?<=pictures/{name}" width="360" alt=")[^"]*',
                lambda _, said=said: said,
                text,
            )
        page.write_text(text, encoding="utf-8")


if __name__ == "__main__":
    main()
