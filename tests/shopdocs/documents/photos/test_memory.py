"""What a picture will need is told from its header, truly enough, and what needs too much is refused before it is decoded."""

import io
from pathlib import Path

import pytest
from PIL import Image, ImageFile

from shopdocs.documents.photos.examine import examine
from shopdocs.documents.photos.jpeg import layout
from shopdocs.documents.photos.limits import Limits
from shopdocs.documents.photos.memory import WORK, needed
from shopdocs.documents.photos.opening import opened
from shopdocs.documents.photos.refusal import PictureRefused
from tests.processes import in_a_process, memory


def grown(data, width=8160, height=6120):
    """The same JPEG, said to be larger."""
    frame = data.index(b"\xff\xc2") if b"\xff\xc2" in data else data.index(b"\xff\xc0")
    return data[: frame + 5] + height.to_bytes(2, "big") + width.to_bytes(2, "big") + data[frame + 9 :]


def told(data):
    with opened(data, limits=Limits()) as (kind, image):
        return needed(kind, data, image.size, image.mode, layout(data) if kind == "jpeg" else None)


def refused(data, limits=None):
    with pytest.raises(PictureRefused) as caught:
        examine(data, limits=limits or Limits())
    assert len(caught.value.problem) < 200 and len(caught.value.remedy) < 200
    return f"{caught.value.problem} {caught.value.remedy}"


def test_a_jpeg_in_passes_needs_two_bytes_for_each_sample(make):
    samples = {
        ("RGB", 0): 3, ("RGB", 2): 1.5, ("L", -1): 1, ("CMYK", -1): 4,
    }  # fmt: skip
    for (mode, subsampling), each in samples.items():
        options = {"subsampling": subsampling} if mode == "RGB" else {}
        image = make["bench"](size=(320, 240)).convert(mode)
        progressive = layout(grown(make["encoded"](image, "JPEG", progressive=True, **options)))
        assert progressive.held == pytest.approx(2 * each * 8160 * 6120, rel=0.002)
        assert layout(grown(make["encoded"](image, "JPEG", **options))).held == 0


def test_a_jpeg_that_would_need_too_much_is_refused_before_it_is_decoded(make, monkeypatch):
    data = grown(make["encoded"](make["bench"](size=(320, 240)).convert("CMYK"), "JPEG", progressive=True))
    monkeypatch.setattr(ImageFile.ImageFile, "load_prepare", lambda self: pytest.fail("was decoded"))
    words = refused(data)
    assert (
        "a JPEG in several passes of 8160 x 6120 pixels that takes 424 MB of memory to read; 300 MB are given" in words
    )
    assert "baseline JPEG (not progressive), or send it in a smaller size" in words


def test_a_webp_that_would_need_too_much_is_refused_before_it_is_opened(make, monkeypatch):
    out = io.BytesIO()
    Image.new("RGB", (5000, 4000)).save(out, "WEBP", quality=1, method=0)
    monkeypatch.setattr(Image, "open", lambda *_, **__: pytest.fail("was opened"))
    assert "a WebP of 5000 x 4000 pixels" in refused(out.getvalue())


@pytest.mark.parametrize("form", ["PNG", "WEBP", "HEIF"])
def test_how_much_is_given_is_the_callers(make, form):
    data = make["encoded"](make["bench"](), form)
    need = told(data)
    assert examine(data, limits=Limits(max_memory=need + len(data))).width == 640
    assert "of memory to read" in refused(data, Limits(max_memory=need - 1))


def peak(place: str) -> float:
    """Bytes that a picture took at most, in a process that has decoded one before."""
    small = io.BytesIO()
    Image.effect_noise((300, 300), 50).save(small, "JPEG")
    examine(small.getvalue(), limits=Limits())
    idle = memory("VmRSS")
    examine(Path(place).read_bytes(), limits=Limits())
    return (memory("VmHWM") - idle) * 1024


@pytest.mark.parametrize(
    ("form", "mode", "size", "options"),
    [
        ("JPEG", "CMYK", (2400, 1800), {"progressive": True, "quality": 60}),
        ("PNG", "RGBA", (2400, 1800), {"compress_level": 1}),
        ("WEBP", "RGB", (2400, 1800), {"quality": 40, "method": 0}),
        ("HEIF", "RGB", (1200, 900), {"quality": 30, "chroma": 444}),
    ],
)
def test_what_is_told_is_enough_and_not_much_too_much(make, tmp_path, form, mode, size, options):
    place = tmp_path / "picture"
    place.write_bytes(make["encoded"](make["corners"](*size).convert(mode), form, **options))
    own, took = told(place.read_bytes()), in_a_process(peak, str(place))
    assert took <= own
    assert took >= 0.45 * (own - WORK), "a good picture is turned away for what it does not need"
