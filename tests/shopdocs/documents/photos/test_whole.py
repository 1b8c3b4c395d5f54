"""What is cut off, with or without an end mark put behind it, or blank from some place on, is refused; the rest is not."""

import random
import zlib

import pytest
from PIL import Image, ImageFilter

from shopdocs.documents.photos.examine import examine
from shopdocs.documents.photos.limits import Limits
from shopdocs.documents.photos.refusal import PictureRefused

END = b"\xff\xd9"
WAYS = [
    {},
    {"progressive": True},
    {"optimize": True},
    {"quality": 95, "subsampling": 0},
    {"restart_marker_rows": 1},
    {"restart_marker_blocks": 7, "progressive": True},
]
SHARES = range(10, 100, 5)


def scenes(make):
    """Sharp, blurred, grey, four inks, noise; and plain to different depths, in the very grey that a decoder fills with."""
    for seed in range(10):
        rng = random.Random(seed)
        image = make["bench"](seed, (rng.randrange(260, 420), rng.randrange(200, 330)))
        if seed % 5 == 1:
            image = image.filter(ImageFilter.GaussianBlur(4))
        if seed % 5 == 2:
            image.paste((128, 128, 128), (0, image.height // 2, image.width, image.height))
        if seed % 5 == 3:
            image = image.convert("L") if seed == 3 else image.convert("CMYK")
        if seed % 5 == 4:
            image.paste("white", (0, image.height // 4, image.width, image.height))
        yield image


def taken(data):
    try:
        examine(data, limits=Limits())
    except PictureRefused as refusal:
        assert "cut off" in refusal.problem
        return False
    return True


def cut(data, share):
    """What was sent of the file, in hundredths."""
    return data[: len(data) * share // 100]


@pytest.mark.parametrize("options", WAYS, ids=str)
def test_a_jpeg_is_whole_or_refused(make, options):
    for number, image in enumerate(scenes(make)):
        data = make["encoded"](image, "JPEG", **options)
        assert taken(data), f"false alarm at {number}"
        picture = data.index(b"\xff\xda") + 40
        for share in SHARES:
            sent = cut(data, share)
            if len(sent) > picture:
                assert not taken(sent + END), f"{share} % of {number}"


@pytest.mark.parametrize("options", WAYS, ids=str)
def test_a_jpeg_that_is_blank_from_some_place_on_is_refused(make, options):
    data = make["encoded"](make["bench"](3, (420, 330)), "JPEG", **{"quality": 92} | options)
    for share in SHARES:
        sent = cut(data, share)
        assert not taken(sent + bytes(len(data) - len(sent) - 2) + END), f"{share} %"


def test_a_plain_jpeg_is_whole_although_its_codes_are_zeros(make):
    for mode, colour in (("RGB", (128, 128, 128)), ("RGB", (9, 70, 200)), ("L", 128), ("CMYK", (0, 0, 0, 90))):
        data = make["encoded"](Image.new(mode, (1500, 1200), colour), "JPEG", optimize=True)
        assert bytes(300) in data and taken(data)


def test_filling_behind_the_picture_is_no_damage_and_picture_that_is_left_over_is(make):
    for options in ({}, {"optimize": True}, {"progressive": True}):
        data = make["encoded"](make["bench"](4), "JPEG", **options)
        for filling in (bytes(1), b"\x5a" * 512, bytes(400), bytes(3000)):
            assert taken(data[:-2] + filling + END)
    lying = bytearray(make["encoded"](make["bench"](4), "JPEG"))
    frame = lying.index(b"\xff\xc0")
    lying[frame + 5 : frame + 7] = (240).to_bytes(2, "big")  # half as high as it is
    assert not taken(bytes(lying))


def test_a_jpeg_whose_last_passes_are_missing_is_refused(make):
    data = make["encoded"](make["bench"](5), "JPEG", progressive=True)
    scans = [at for at in range(len(data)) if data.startswith(b"\xff\xda", at)]
    for at in scans[1:]:
        tables = data.rindex(b"\xff\xc4", 0, at) if b"\xff\xc4" in data[at - 300 : at] else at
        assert not taken(data[:tables] + END)


@pytest.mark.parametrize(
    ("form", "options"), [("PNG", {}), ("WEBP", {}), ("HEIF", {}), ("HEIF", {"chroma": 444, "quality": 90})]
)
def test_what_is_zeros_from_some_place_on_is_refused(make, form, options):
    data = make["encoded"](make["bench"](6, (400, 300)), form, **options)
    assert taken(data)
    for share in (10, 30, 50, 70, 90):
        sent = cut(data, share)
        if len(sent) > 900 or form != "HEIF":  # below that its directory is gone
            assert not taken(sent + bytes(len(data) - len(sent))), f"{share} %"


def test_a_plain_webp_is_whole_although_it_ends_in_zeros(make):
    wall = Image.new("RGB", (1400, 900), (60, 120, 90))
    wall.paste(make["bench"](1, (300, 200)), (40, 40))
    for options in ({}, {"lossless": True, "quality": 0, "method": 0}):
        data = make["encoded"](wall, "WEBP", **options)
        assert len(data) - len(data.rstrip(b"\0")) >= 64
        assert taken(data)


def test_a_png_whose_check_sum_is_wrong_is_refused(make):
    data = make["encoded"](make["bench"](7, (200, 150)), "PNG")
    picture = data.index(b"IDAT")
    size = int.from_bytes(data[picture - 4 : picture], "big")
    damaged = bytearray(data)
    damaged[picture + 4 + size] ^= 1
    assert not taken(bytes(damaged))


def chunk(mark: bytes, body: bytes) -> bytes:
    return len(body).to_bytes(4, "big") + mark + body + zlib.crc32(mark + body).to_bytes(4, "big")


PASSES = ((0, 8, 0, 8), (4, 8, 0, 8), (0, 4, 4, 8), (2, 4, 0, 4), (0, 2, 2, 4), (1, 2, 0, 2), (0, 1, 1, 2))


def rows_of(size: tuple[int, int], bits: int, interlaced: bool) -> list[bytes]:
    """Rows of noise without a filter, pass by pass; each column and row of a pass counted one by one."""
    rng, rows = random.Random(3), []
    for left, right, top, down in PASSES if interlaced else ((0, 1, 0, 1),):
        across = len(range(left, size[0], right))
        wide = len(range(0, across * bits, 8))
        rows += [b"\0" + rng.randbytes(wide) for _ in range(top, size[1], down) if across]
    return rows


def png(size: tuple[int, int], depth: int, colour: int, interlaced: bool, packed: bytes) -> bytes:
    head = size[0].to_bytes(4, "big") + size[1].to_bytes(4, "big") + bytes((depth, colour, 0, 0, interlaced))
    palette = chunk(b"PLTE", bytes(range(3 * 2 ** min(depth, 6)))) if colour == 3 else b""
    half = len(packed) // 2
    parts = [
        chunk(b"IHDR", head),
        palette,
        chunk(b"IDAT", packed[:half]),
        chunk(b"IDAT", packed[half:]),
        chunk(b"IEND", b""),
    ]
    return b"\x89PNG\r\n\x1a\n" + b"".join(parts)


@pytest.mark.parametrize("interlaced", [False, True])
@pytest.mark.parametrize(
    ("depth", "colour", "channels"),
    [(1, 0, 1), (2, 0, 1), (8, 0, 1), (16, 0, 1), (8, 2, 3), (16, 2, 3), (4, 3, 1), (8, 4, 2), (8, 6, 4), (16, 6, 4)],
)
def test_a_png_that_lacks_rows_is_refused_though_its_stream_ends_as_it_should(
    depth: int, colour: int, channels: int, interlaced: bool
) -> None:
    size = (203, 151)
    rows = rows_of(size, depth * channels, interlaced)
    assert taken(png(size, depth, colour, interlaced, zlib.compress(b"".join(rows))))
    assert taken(png(size, depth, colour, interlaced, zlib.compress(b"".join(rows) + bytes(70))))  # is passed over
    for lacking in (1, len(rows) * 6 // 10):
        assert not taken(png(size, depth, colour, interlaced, zlib.compress(b"".join(rows[:-lacking]))))
    last_byte = b"".join(rows)[:-1]
    assert not taken(png(size, depth, colour, interlaced, zlib.compress(last_byte)))


def test_a_png_with_a_wrong_sum_over_its_picture_or_a_bomb_behind_it(make) -> None:
    rows = b"".join(rows_of((203, 151), 8, interlaced=False))
    packed = zlib.compress(rows)
    assert not taken(png((203, 151), 8, 0, False, packed[:-1] + bytes((packed[-1] ^ 1,))))
    assert not taken(png((203, 151), 8, 0, False, packed[:-4]))
    stuffed = zlib.compress(rows + bytes(200_000_000))  # not unpacked: the decoder passes over it too
    assert taken(png((203, 151), 8, 0, False, stuffed))
