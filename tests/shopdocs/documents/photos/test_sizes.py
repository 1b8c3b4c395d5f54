"""Copies for paper and screen: upright, sRGB, bare and the same each time."""

import io

import pytest
from PIL import Image, ImageCms

from shopdocs.documents.photos.examine import examine
from shopdocs.documents.photos.limits import Limits
from shopdocs.documents.photos.refusal import PictureRefused
from shopdocs.documents.photos.sizes import for_print, for_screen

RED, GREEN, BLUE, YELLOW = (220, 30, 30), (30, 200, 30), (30, 30, 220), (230, 220, 30)
TURNED_BACK = {
    1: None,
    2: Image.Transpose.FLIP_LEFT_RIGHT,
    3: Image.Transpose.ROTATE_180,
    4: Image.Transpose.FLIP_TOP_BOTTOM,
    5: Image.Transpose.TRANSPOSE,
    6: Image.Transpose.ROTATE_90,
    7: Image.Transpose.TRANSVERSE,
    8: Image.Transpose.ROTATE_270,
}


def shown(data):
    image = Image.open(io.BytesIO(data))
    image.load()
    assert (image.format, image.mode) == ("JPEG", "RGB")
    return image


def near(found, wanted, within=10):
    return all(abs(a - b) <= within for a, b in zip(found, wanted, strict=True))


def corner_colours(image):
    w, h = image.size
    left, right, upper, lower = w // 5, w * 4 // 5, h // 5, h * 4 // 5
    return [image.getpixel(point) for point in ((left, upper), (right, upper), (right, lower), (left, lower))]


@pytest.mark.parametrize("orientation", range(1, 9))
def test_every_turn_ends_upright(make, orientation):
    scene = make["corners"]()
    turn = TURNED_BACK[orientation]
    stored = scene.transpose(turn) if turn is not None else scene
    data = make["encoded"](stored, "JPEG", quality=95, exif=make["camera_exif"](orientation))
    for copy in (for_print(data, width_mm=40), for_screen(data, longest=320)):
        image = shown(copy)
        assert image.size in {(315, 236), (320, 240)}
        for found, wanted in zip(corner_colours(image), (RED, GREEN, BLUE, YELLOW), strict=True):
            assert near(found, wanted)


@pytest.mark.parametrize("wide", [True, False])
@pytest.mark.parametrize("form", ["JPEG", "PNG", "WEBP", "HEIF"])
def test_nothing_the_camera_wrote_is_left(make, form, wide):
    options = {"exif": make["camera_exif"](), "xmp": b"<x SerialNumber='CAM-SECRET-4471'/>"}
    if form == "JPEG":
        options["comment"] = b"CAM-SECRET-4471"
    if wide:
        options["icc_profile"] = make["matrix_profile"](WIDE)
    data = make["encoded"](make["bench"](), form, **options)
    assert b"SECRET" in data
    for copy in (for_print(data, width_mm=40), for_screen(data)):
        image = shown(copy)
        assert dict(image.getexif()) == {}
        assert set(image.info) <= {"jfif", "jfif_version", "jfif_unit", "jfif_density", "dpi"}
        assert b"SECRET" not in copy
        assert b"Exif" not in copy
        assert b"ICC_PROFILE" not in copy


def test_a_heic_is_turned_once(make):
    data = make["encoded"](make["corners"](), "HEIF", quality=90, exif=make["camera_exif"](6))
    picture = examine(data, limits=Limits())
    image = shown(for_screen(data))
    assert image.size == (picture.width, picture.height) == (480, 640)
    # Lying on its side in the file, turned a quarter clockwise on its way out.
    assert near(corner_colours(image)[0], YELLOW, 14)
    assert shown(for_print(data, width_mm=25.4)).size == (200, 267)


def test_print_carries_what_the_paper_shows_and_no_more(make):
    data = make["encoded"](make["bench"](size=(4000, 3000)), "JPEG")
    assert shown(for_print(data, width_mm=88)).size == (693, 520)
    assert shown(for_print(data, width_mm=88, dpi=300)).width == 1039
    assert shown(for_print(data, width_mm=88, height_mm=40)).size == (420, 315)
    assert shown(for_screen(data)).size == (1600, 1200)
    assert shown(for_screen(data, longest=320)).size == (320, 240)
    assert len(for_print(data, width_mm=88)) < 120_000


def test_nothing_is_enlarged_and_no_strip_vanishes(make):
    small = make["encoded"](make["corners"](60, 40), "PNG")
    assert shown(for_print(small, width_mm=180)).size == (60, 40)
    strip = make["encoded"](Image.new("RGB", (3, 90_000), "red"), "PNG")
    assert shown(for_print(strip, width_mm=80)).size == (1, 4096)


def test_the_same_bytes_come_out_each_time(make):
    data = make["encoded"](make["bench"](), "JPEG", exif=make["camera_exif"](6))
    assert for_print(data, width_mm=60) == for_print(data, width_mm=60)
    assert for_print(data, width_mm=60) != for_print(data, width_mm=61)


def test_clear_parts_become_paper_white(make):
    for mode, colour in (("RGBA", (0, 0, 0, 0)), ("LA", (0, 0))):
        data = make["encoded"](Image.new(mode, (90, 60), colour), "PNG")
        assert near(shown(for_print(data, width_mm=5)).getpixel((3, 3)), (255, 255, 255), 2)
    palette = Image.new("P", (90, 60), 1)
    palette.putpalette([0, 0, 0, 200, 0, 0])
    clear = make["encoded"](palette, "PNG", transparency=1)
    assert near(shown(for_print(clear, width_mm=5)).getpixel((3, 3)), (255, 255, 255), 2)


@pytest.mark.parametrize("mode", ["RGB", "RGBA", "L", "P", "1", "I;16"])
def test_a_large_picture_shrunk_in_strips_shows_no_seam(make, mode):
    ramp = Image.linear_gradient("L").resize((2600, 2050), Image.Resampling.BILINEAR)
    scene = Image.new("I;16", ramp.size, 0) if mode == "I;16" else ramp.convert(mode)
    if mode == "I;16":
        scene = ramp.convert("I").point(lambda value: value * 256 + 0).convert("I;16")
    small = shown(for_screen(make["encoded"](scene, "PNG"), longest=260)).convert("L")
    assert small.size == (260, 205)
    column = [small.getpixel((130, y)) for y in range(205)]
    rough = 40 if mode == "1" else 5  # dots of black and white stay a little uneven
    for y, value in enumerate(column):
        assert abs(value - 255 * (y + 0.5) / 205) <= rough, f"row {y}"


def test_sixteen_bit_grey_keeps_its_brightness(make):
    data = make["encoded"](Image.new("I;16", (64, 64), 30_000), "PNG")
    assert near(shown(for_print(data, width_mm=10)).getpixel((9, 9)), (117, 117, 117), 2)


# XYZ columns of wide primaries, adapted to D50: those published for "P3 with D65 white" displays, from memory;
# the expected pixel is computed below, independently of the library that converts.
WIDE = ((0.51512, 0.24120, -0.00105), (0.29198, 0.69225, 0.04189), (0.15710, 0.06657, 0.78407))
SRGB_FROM_D50 = (
    (3.1338561, -1.6168667, -0.4906146),
    (-0.9787684, 1.9161415, 0.0334540),
    (0.0719453, -0.2289914, 1.4052427),
)


def as_srgb(pixel, gamma=2.2):
    light = [(v / 255) ** gamma for v in pixel]
    xyz = [sum(WIDE[c][row] * light[c] for c in range(3)) for row in range(3)]
    linear = [sum(m * v for m, v in zip(row, xyz, strict=True)) for row in SRGB_FROM_D50]
    clipped = [min(1.0, max(0.0, v)) for v in linear]
    return tuple(round(255 * (12.92 * v if v <= 0.0031308 else 1.055 * v ** (1 / 2.4) - 0.055)) for v in clipped)


@pytest.mark.parametrize("pixel", [(200, 100, 60), (80, 160, 90), (70, 90, 180), (128, 128, 128)])
def test_a_wide_profile_is_brought_to_srgb(make, pixel):
    profile = make["matrix_profile"](WIDE)
    data = make["encoded"](Image.new("RGB", (64, 48), pixel), "PNG", icc_profile=profile)
    assert examine(data, limits=Limits()).has_colour_profile
    found = shown(for_print(data, width_mm=5)).getpixel((9, 9))
    assert near(found, as_srgb(pixel), 4)
    if pixel != (128, 128, 128):
        assert not near(found, pixel, 4)  # the profile was not just dropped


def test_a_profile_of_another_space_or_a_broken_one_is_left_out(make):
    lab = ImageCms.ImageCmsProfile(ImageCms.createProfile("LAB")).tobytes()
    for profile in (lab, b"no profile at all", make["matrix_profile"](WIDE)[:200]):
        data = make["encoded"](Image.new("RGB", (64, 48), (200, 100, 60)), "JPEG", quality=95, icc_profile=profile)
        assert near(shown(for_print(data, width_mm=5)).getpixel((9, 9)), (200, 100, 60), 4)


def test_a_colour_profile_on_a_grey_photo_does_no_harm(make):
    profile = make["matrix_profile"](WIDE)
    data = make["encoded"](Image.new("L", (64, 48), 140), "JPEG", quality=95, icc_profile=profile)
    assert near(shown(for_print(data, width_mm=5)).getpixel((9, 9)), (140, 140, 140), 3)


def test_cmyk_and_grey_come_out_as_rgb(make):
    cyan = make["encoded"](Image.new("CMYK", (64, 64), (255, 0, 0, 0)), "JPEG", quality=95)
    red, green, blue = shown(for_screen(cyan)).getpixel((9, 9))
    assert red < 60 < green
    assert blue > 150
    grey = make["encoded"](Image.new("L", (64, 64), 90), "JPEG")
    assert near(shown(for_screen(grey)).getpixel((9, 9)), (90, 90, 90), 3)


def test_bad_sizes_and_bad_bytes_are_refused(make):
    data = make["encoded"](make["corners"](), "JPEG")
    for width in (0, -3, float("nan"), 1e9):
        with pytest.raises(ValueError, match="above 0"):
            for_print(data, width_mm=width)
    with pytest.raises(ValueError, match="longest"):
        for_screen(data, longest=0)
    for call in (lambda d: for_print(d, width_mm=50), for_screen):
        with pytest.raises(PictureRefused):
            call(b"%!PS")
    with pytest.raises(PictureRefused):
        for_print(data[:-900], width_mm=50)
    with pytest.raises(PictureRefused):
        for_screen(data, limits=Limits(max_pixels=1000))
