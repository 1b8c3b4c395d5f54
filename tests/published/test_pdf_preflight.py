"""Every paper's PDF/A-1b twin, judged by a checker that is not ours: PDFBox Preflight 2.0 of the Apache Software Foundation.

It tests ISO 19005-1 level B, https://pdfbox.apache.org/2.0/commandline.html. What it clears is the drawing, its fonts, colours,
pictures and metadata; the rules of part 3 are tested one by one in test_pdf_archive.py.
"""

from __future__ import annotations

from io import BytesIO
from pathlib import Path

import pikepdf
import pytest

from tests import papers_samples as samples
from tests.published.preflight import require_checker, twin, verdicts


def test_every_twin_is_clean_and_a_spoiled_one_is_not(tmp_path: Path) -> None:
    require_checker()
    files = {}
    for name, (module, make) in samples.ALL_PAPERS.items():
        files[name] = twin(module.draw(make(), samples.PICTURES).pdf)
        if name != "part tag":
            files[f"{name} a4"] = twin(module.draw(make("a4"), samples.PICTURES).pdf)
    module, make = samples.ALL_PAPERS["repair order"]
    files["odd letters"] = twin(
        module.draw(
            make(complaint="½ ⅜ Ж ქართული Łódź 😀 ☑ <img src=x> مُحَمَّد שָׁלוֹם น้ำ क्षत्रिय 王小明 김 q\u0303 👩‍🔧"),
            samples.PICTURES,
        ).pdf
    )
    files["spoiled"] = _without_a_font_file(files["estimate"])
    found = verdicts(files, tmp_path)
    spoiled = found.pop("spoiled")
    assert spoiled, "the checker must see a font that is not embedded"
    assert found == {name: [] for name in found} and len(found) == len(files) - 1


def test_the_checker_refuses_part_3_by_design(tmp_path: Path) -> None:
    require_checker()
    module, make = samples.ALL_PAPERS["estimate"]
    assert verdicts({"part 3": module.draw(make(), {}).pdf}, tmp_path)["part 3"]


def _without_a_font_file(pdf: bytes) -> bytes:
    with pikepdf.open(BytesIO(pdf)) as document:
        for one in document.objects:
            if isinstance(one, pikepdf.Dictionary) and "/FontFile2" in one:
                del one.FontFile2
        out = BytesIO()
        document.save(out, object_stream_mode=pikepdf.ObjectStreamMode.disable, force_version="1.4")
    return out.getvalue()


def test_the_twin_is_the_same_drawing() -> None:
    module, make = samples.ALL_PAPERS["claim"]
    paper = module.draw(make(), samples.PICTURES).pdf
    with pikepdf.open(BytesIO(paper)) as one, pikepdf.open(BytesIO(twin(paper))) as two:
        assert len(one.pages) == len(two.pages) > 1
        for here, there in zip(one.pages, two.pages, strict=True):
            assert here.Contents.read_bytes() == there.Contents.read_bytes()
        assert "/EmbeddedFiles" not in two.Root.get("/Names", {}) and two.pdf_version == "1.4"


def test_the_profile_of_the_twin_is_read_by_a_colour_library() -> None:
    from PIL import ImageCms

    from tests.published.preflight import srgb_version_2

    profile = ImageCms.ImageCmsProfile(BytesIO(srgb_version_2()))
    assert profile.profile.version == pytest.approx(2.1)
    assert profile.profile.xcolor_space.strip() == "RGB"
