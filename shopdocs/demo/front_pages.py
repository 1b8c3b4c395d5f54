"""The pictures of the README: the first page of each paper of the main job, small enough to live in the repository.

python manage.py demo --stop
python -m shopdocs.demo.front_pages var/demo/the-main-job shopdocs/demo/shown
"""

from __future__ import annotations

import sys
from io import BytesIO
from pathlib import Path

import pypdfium2  # type: ignore[import-untyped]
from PIL import Image

WIDTH = 700
COLOURS = 48


def front_page(pdf: bytes, width: int = WIDTH) -> bytes:
    """The first page of `pdf` as a palette PNG of that width in pixels, with a thin grey edge around the white."""
    document = pypdfium2.PdfDocument(pdf)
    try:
        page = document[0]
        image = page.render(scale=2 * (width - 2) / page.get_width()).to_pil().convert("RGB")
    finally:
        document.close()
    height = round(image.height * (width - 2) / image.width)
    framed = Image.new("RGB", (width, height + 2), "#b8bec4")
    framed.paste(image.resize((width - 2, height), Image.Resampling.LANCZOS), (1, 1))
    out = BytesIO()
    # Not the median cut: it spends its colours on shades of grey, and the accent of the shop would be one of them.
    palette = framed.quantize(COLOURS, method=Image.Quantize.MAXCOVERAGE, dither=Image.Dither.NONE)
    palette.save(out, "PNG", optimize=True)
    return out.getvalue()


def main(papers: Path, shown: Path) -> None:
    """Writes NAME.png into `shown` for each NAME.pdf in `papers`."""
    shown.mkdir(parents=True, exist_ok=True)
    for paper in sorted(papers.glob("*.pdf")):
        picture = shown / f"{paper.stem}.png"
        picture.write_bytes(front_page(paper.read_bytes()))
        print(f"{picture}: {picture.stat().st_size // 1024} KB")


if __name__ == "__main__":
    main(Path(sys.argv[1]), Path(sys.argv[2]))
