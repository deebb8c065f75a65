"""
Build docs/pictures anew and put what each picture says into docs/gallery.md and README.

Run from a checkout after a change that moves figures on purpose, and read the
difference: ``python docs/studies/refresh_pictures.py``.
"""

import re
import subprocess
import sys
from pathlib import Path
from xml.etree import ElementTree

ROOT = Path(__file__).parents[2]
PICTURES = ROOT / "docs" / "pictures"
TITLE = "{http://www.w3.org/2000/svg}title"


def main():
    subprocess.run(
        [sys.executable, "-m", "advisor", "gallery", "--no-cache", "--overwrite",
         "--output", PICTURES],
        cwd=ROOT,
        check=True,
    )  # fmt: skip
    for page in (ROOT / "docs" / "gallery.md", ROOT / "README.md"):
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
