"""What the door takes, what it says of it, and what it turns away."""

import hashlib
import io
import subprocess
import sys
import zipfile
import zlib
from datetime import UTC, datetime, timedelta

import piexif
import pytest
from PIL import Image

from shopdocs.documents.photos.examine import examine
from shopdocs.documents.photos.jpeg import layout
from shopdocs.documents.photos.limits import Limits
from shopdocs.documents.photos.refusal import PictureRefused

LIMITS = Limits()


def refused(data, name="", limits=LIMITS):
    with pytest.raises(PictureRefused) as caught:
        examine(data, limits=limits, declared_name=name)
    fault = caught.value
    assert fault.field == "file"
    for sentence in (fault.problem, fault.remedy):
        assert sentence.endswith(".")
        assert len(sentence) < 200
    return fault.problem


@pytest.mark.parametrize(("form", "kind"), [("JPEG", "jpeg"), ("PNG", "png"), ("WEBP", "webp"), ("HEIF", "heic")])
def test_each_kind_is_known_by_content_whatever_its_name(make, form, kind):
    data = make["encoded"](make["bench"](), form)
    picture = examine(data, limits=LIMITS, declared_name="holiday.exe")
    assert (picture.kind, picture.media_type) == (kind, f"image/{kind}")
    assert (picture.width, picture.height, picture.size) == (640, 480, len(data))
    assert picture.sha256 == hashlib.sha256(data).hexdigest()
    assert (picture.taken_at, picture.taken_moment, picture.orientation) == (None, None, 1)
    assert not (picture.has_gps or picture.has_camera_serial or picture.has_colour_profile)


@pytest.mark.parametrize("form", ["JPEG", "PNG", "WEBP", "HEIF"])
def test_what_a_camera_wrote_is_read(make, form):
    data = make["encoded"](make["bench"](), form, exif=make["camera_exif"]())
    picture = examine(data, limits=LIMITS)
    assert picture.taken_at == datetime(2026, 4, 17, 9, 41, 12)
    assert picture.taken_offset == timedelta(hours=-5)
    assert picture.taken_moment == datetime(2026, 4, 17, 14, 41, 12, tzinfo=UTC)
    assert picture.has_gps
    assert picture.has_camera_serial


@pytest.mark.parametrize("orientation", range(1, 9))
def test_width_and_height_are_given_upright(make, orientation):
    data = make["encoded"](make["corners"](), "JPEG", exif=make["camera_exif"](orientation))
    picture = examine(data, limits=LIMITS)
    assert picture.orientation == orientation
    assert (picture.width, picture.height) == ((640, 480) if orientation < 5 else (480, 640))


@pytest.mark.parametrize(
    ("written", "offset", "taken", "span"),
    [
        (b"0000:00:00 00:00:00", None, None, None),
        (b"    :  :     :  :  ", None, None, None),
        (b"2026:02:30 10:00:00", None, None, None),
        (b"2026:02:28 10:00:00", None, datetime(2026, 2, 28, 10), None),
        (b"2026:02:28 10:00:00", b"   :  ", datetime(2026, 2, 28, 10), None),
        (b"2026:02:28 10:00:00", b"+45:00", datetime(2026, 2, 28, 10), None),
        (b"2026:02:28 10:00:00", b"+05:30", datetime(2026, 2, 28, 10), timedelta(hours=5, minutes=30)),
    ],
)
def test_a_clock_that_is_no_clock_is_no_evidence(make, written, offset, taken, span):
    notes = {piexif.ExifIFD.DateTimeOriginal: written}
    if offset:
        notes[piexif.ExifIFD.OffsetTimeOriginal] = offset
    data = make["encoded"](make["corners"](), "JPEG", exif=piexif.dump({"Exif": notes}))
    picture = examine(data, limits=LIMITS)
    assert (picture.taken_at, picture.taken_offset) == (taken, span)


@pytest.mark.parametrize(
    ("first", "notes", "taken", "offset", "which"),
    [
        (True, {"DateTimeDigitized": b"2026:02:27 08:00:00", "OffsetTimeDigitized": b"+01:00"}, 27, 1, "digitized"),
        (True, {"OffsetTime": b"-05:00", "OffsetTimeDigitized": b"+01:00"}, 28, -5, "changed"),
        (True, {"DateTimeOriginal": b"0000:00:00 00:00:00"}, 28, None, "changed"),
        (True, {"DateTimeOriginal": b"2026:02:26 09:00:00", "OffsetTime": b"-05:00"}, 26, None, "original"),
        (False, {"OffsetTime": b"-05:00"}, None, None, ""),
    ],
)
def test_which_clock_told_the_time_is_said(make, first, notes, taken, offset, which):
    changed = {piexif.ImageIFD.DateTime: b"2026:02:28 10:00:00"} if first else {}
    inner = {getattr(piexif.ExifIFD, name): value for name, value in notes.items()}
    data = make["encoded"](make["corners"](), "JPEG", exif=piexif.dump({"0th": changed, "Exif": inner}))
    picture = examine(data, limits=LIMITS)
    assert (picture.taken_at and picture.taken_at.day, picture.taken_from) == (taken, which)
    assert picture.taken_offset == (None if offset is None else timedelta(hours=offset))


def test_place_and_serial_hidden_in_xmp_are_noticed(make):
    packet = b'<x:xmpmeta><a exif:GPSLatitude="41,24N" aux:SerialNumber="77"/></x:xmpmeta>'
    picture = examine(make["encoded"](make["corners"](), "JPEG", xmp=packet), limits=LIMITS)
    assert picture.has_gps
    assert picture.has_camera_serial


@pytest.mark.filterwarnings("ignore::UserWarning:PIL")
def test_damaged_exif_is_no_reason_to_refuse(make):
    data = make["encoded"](make["corners"](), "JPEG", exif=b"Exif\0\0MM\0*\xff\xff\xff\xf0" + b"\x01" * 40)
    assert examine(data, limits=LIMITS).orientation == 1


def test_a_phone_photo_with_a_second_picture_behind_it_is_one_photo(make):
    data = make["encoded"](make["bench"](), "MPO", save_all=True, append_images=[make["corners"](160, 120)])
    picture = examine(data, limits=LIMITS)
    assert (picture.kind, picture.width) == ("jpeg", 640)


@pytest.mark.parametrize("form", ["WEBP", "PNG"])
def test_a_moving_picture_is_refused(make, form):
    frames = [make["bench"](seed, (64, 48)) for seed in range(3)]
    data = make["encoded"](frames[0], form, save_all=True, append_images=frames[1:])
    assert "moving" in refused(data)


def zipped():
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w") as archive:
        archive.writestr("photo.jpg", b"\xff\xd8\xff")
    return out.getvalue()


@pytest.mark.parametrize(
    ("data", "words"),
    [
        (b"", "is empty"),
        (zipped(), "a ZIP archive"),
        (b"%!PS\n%%BoundingBox: 0 0 9 9\n(x) run\n", "PostScript"),
        (b"<svg xmlns='http://www.w3.org/2000/svg'><script/></svg>", "an SVG drawing"),
        (b"\xef\xbb\xbf<?xml version='1.0'?><svg/>", "an SVG drawing"),
        (b"<!DOCTYPE html><html></html>", "a web page"),
        ("The fuel line leaks \N{EM DASH} twice.".encode() * 400, "plain text"),
        (b"GIF89a" + b"\0" * 40, "a GIF"),
        (b"II*\0" + b"\0" * 40, "a TIFF"),
        (b"%PDF-1.7\n", "a PDF"),
        (b"\0\0\0\x1cftypavif\0\0\0\0avifmif1miaf", "AVIF"),
        (b"\0\0\0\x18ftypmp42\0\0\0\0mp42isom", "a film"),
        (b"MZ\x90\0", "a program"),
        (bytes(range(256)), "no kind that is known"),
    ],
)
def test_what_is_no_picture_is_refused_by_its_name(data, words):
    problem = refused(data, name="IMG_0412.jpg")
    assert words in problem
    assert '"IMG_0412.jpg"' in problem


@pytest.mark.parametrize("form", ["JPEG", "PNG", "WEBP", "HEIF"])
def test_one_decoder_is_named_and_no_other_is_asked(make, form, monkeypatch):
    data, asked, real = make["encoded"](make["corners"](), form), [], Image.open

    def watched(source, mode="r", formats=None):
        asked.append(formats)
        return real(source, mode, formats)

    monkeypatch.setattr(Image, "open", watched)
    examine(data, limits=LIMITS, declared_name="a.eps")
    assert asked == [[form]]


def test_a_hostile_name_is_quoted_short_and_printable():
    problem = refused(b"", name="a\x00\r\nb" + "c" * 5000 + ".jpg")
    assert "\n" not in problem
    assert "\x00" not in problem
    assert problem.startswith('The file "abccc')


def png_header(width, height):
    def chunk(kind, body):
        return len(body).to_bytes(4, "big") + kind + body + zlib.crc32(kind + body).to_bytes(4, "big")

    head = width.to_bytes(4, "big") + height.to_bytes(4, "big") + b"\x08\x02\0\0\0"
    return b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", head) + chunk(b"IDAT", zlib.compress(b"\0" * 99)) + chunk(b"IEND", b"")


@pytest.mark.parametrize("size", [(20_000, 10_000), (10_000, 5_001), (4_000_000_000, 4_000_000_000)])
def test_a_png_that_states_too_many_pixels_is_refused_before_it_is_decoded(size):
    assert f"{size[0]} x {size[1]} pixels; at most 50 million" in refused(png_header(*size))


@pytest.mark.parametrize("size", [(9_000, 9_000), (20_000, 10_000), (65_000, 65_000)])
def test_a_jpeg_that_states_too_many_pixels_is_refused(make, size):
    data = bytearray(make["encoded"](make["corners"](), "JPEG"))
    frame = data.index(b"\xff\xc0")
    data[frame + 5 : frame + 9] = size[1].to_bytes(2, "big") + size[0].to_bytes(2, "big")
    assert "at most 50 million" in refused(bytes(data))


@pytest.mark.parametrize("lossless", [True, False])
def test_a_webp_that_states_too_many_pixels_is_refused(make, lossless):
    data = bytearray(make["encoded"](make["corners"](), "WEBP", lossless=lossless))
    if lossless:
        data[21:25] = (16382 | 16382 << 14).to_bytes(4, "little")
    else:
        data[26:30] = (16383).to_bytes(2, "little") * 2
    assert "16383 x 16383 pixels" in refused(bytes(data))


def test_limits_are_the_callers(make):
    data = make["encoded"](make["bench"](), "JPEG")
    assert "at most 0.001 MB" in refused(data, limits=Limits(max_bytes=1000))
    assert "has 25.1 MB; at most 25 MB" in refused(data + bytes(25_000_001 - len(data)), limits=Limits())
    assert "640 x 480 pixels; at most 0.3 million" in refused(data, limits=Limits(max_pixels=300_000))
    assert examine(data, limits=Limits(max_pixels=640 * 480, max_bytes=len(data))).width == 640


@pytest.mark.parametrize(
    ("form", "options"),
    [("JPEG", {}), ("JPEG", {"progressive": True}), ("PNG", {}), ("WEBP", {}), ("HEIF", {})],
)
def test_a_picture_cut_off_anywhere_is_refused(make, form, options):
    data = make["encoded"](make["bench"](), form, **options)
    assert examine(data, limits=LIMITS).size == len(data)
    for left in [*range(1, 24), 60, 200, 1000, len(data) // 3, len(data) // 2, len(data) - 30]:
        assert "cut off" in refused(data[:-left]), f"{left} bytes missing"


def test_a_jpeg_of_thousands_of_scans_is_refused_at_once(make):
    data = make["encoded"](make["bench"](), "JPEG", progressive=True)
    start = data.rindex(b"\xff\xda")
    scan = data[start:-2]
    assert "very long" in refused(data[:-2] + scan * 500 + data[-2:])


def test_scans_count_for_the_pixels_that_each_passes_over(make):
    out = io.BytesIO()
    Image.new("L", (7000, 7000), 128).save(out, "JPEG", progressive=True)
    data = out.getvalue()
    assert 1 < data.count(b"\xff\xda") <= 12 and examine(data, limits=LIMITS).width == 7000
    scan = data[data.rindex(b"\xff\xda") : -2]
    assert "very long" in refused(data[:-2] + scan * 20 + data[-2:])
    small = make["encoded"](make["bench"](), "JPEG", progressive=True)
    first = layout(small).scans[0]
    again = small[small.rindex(b"\xff\xda", 0, first.start) : first.stop]
    assert examine(small[: first.stop] + again * 20 + small[first.stop :], limits=LIMITS).kind == "jpeg"


def test_a_grey_or_cmyk_photo_is_taken(make):
    for mode in ("L", "CMYK"):
        data = make["encoded"](make["bench"]().convert(mode), "JPEG")
        assert examine(data, limits=LIMITS).kind == "jpeg"
    assert Image.open(io.BytesIO(data)).mode == "CMYK"


def test_the_room_opens_without_django_and_its_package_is_empty():
    names = ("examine", "proof", "sizes", "look")
    lines = [f"import shopdocs.documents.photos.{name}" for name in names]
    check = "import sys; print(sorted(name for name in sys.modules if name.split('.')[0] in ('django', 'celery')))"
    done = subprocess.run(
        [sys.executable, "-c", "; ".join([*lines, check])], capture_output=True, text=True, check=True
    )
    assert done.stdout.strip() == "[]"
