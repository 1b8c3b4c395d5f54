"""Pictures as cameras write them, made from nothing."""

import random
import struct
from collections.abc import Callable
from io import BytesIO

import piexif
import pytest
from PIL import Image, ImageDraw


def encoded(image: Image.Image, form: str, **options: object) -> bytes:
    out = BytesIO()
    image.save(out, form, **options)
    return out.getvalue()


def corners(width: int = 640, height: int = 480) -> Image.Image:
    """Red, green, blue and yellow, clockwise from the upper left: shows any wrong turn."""
    image = Image.new("RGB", (width, height))
    draw = ImageDraw.Draw(image)
    w, h = width // 2, height // 2
    draw.rectangle((0, 0, w, h), fill=(220, 30, 30))
    draw.rectangle((w, 0, width, h), fill=(30, 200, 30))
    draw.rectangle((w, h, width, height), fill=(30, 30, 220))
    draw.rectangle((0, h, w, height), fill=(230, 220, 30))
    return image


def bench(seed: int = 1, size: tuple[int, int] = (640, 480)) -> Image.Image:
    """Something with detail at every scale."""
    rng = random.Random(seed)
    image = Image.frombytes("RGB", (40, 30), rng.randbytes(3600)).resize(size, Image.Resampling.BICUBIC)
    draw = ImageDraw.Draw(image)
    for _ in range(40):
        x, y = rng.randrange(size[0]), rng.randrange(size[1])
        draw.rectangle(
            (x, y, x + rng.randrange(8, 90), y + rng.randrange(8, 90)), outline="black", fill=rng.randrange(1 << 24)
        )
    return image


def camera_exif(orientation: int = 1) -> bytes:
    """What a phone writes: clock, offset, place, body and lens serial, a thumbnail, a maker's own note."""
    notes = {
        "0th": {piexif.ImageIFD.Make: b"Halverson", piexif.ImageIFD.Orientation: orientation},
        "Exif": {
            piexif.ExifIFD.DateTimeOriginal: b"2026:04:17 09:41:12",
            piexif.ExifIFD.OffsetTimeOriginal: b"-05:00",
            piexif.ExifIFD.BodySerialNumber: b"CAM-SECRET-4471",
            piexif.ExifIFD.LensSerialNumber: b"LENS-SECRET-12",
            piexif.ExifIFD.MakerNote: b"\x00\x01private note" * 20,
        },
        "GPS": {
            piexif.GPSIFD.GPSLatitudeRef: b"N",
            piexif.GPSIFD.GPSLatitude: ((41, 1), (24, 1), (3012, 100)),
            piexif.GPSIFD.GPSLongitudeRef: b"W",
            piexif.GPSIFD.GPSLongitude: ((93, 1), (6, 1), (1155, 100)),
        },
        "1st": {piexif.ImageIFD.Compression: 6},
        "thumbnail": encoded(corners(160, 120), "JPEG"),
    }
    return piexif.dump(notes)


def matrix_profile(primaries: tuple[tuple[float, float, float], ...], gamma: float = 2.2) -> bytes:
    """A version 2 RGB display profile: three XYZ columns (adapted to D50) and one gamma."""

    def xyz(values: tuple[float, float, float]) -> bytes:
        return b"XYZ \0\0\0\0" + struct.pack(">3i", *(round(v * 65536) for v in values))

    curve = b"curv\0\0\0\0" + struct.pack(">IH", 1, round(gamma * 256)) + b"\0\0"
    text = b"text\0\0\0\0own\0"
    name = b"desc\0\0\0\0" + struct.pack(">I", 5) + b"wide\0" + b"\0" * 78 + b"\0" * 1
    white = (0.9642, 1.0, 0.8249)
    parts = [(b"desc", name), (b"cprt", text), (b"wtpt", xyz(white))]
    parts += [(tag, xyz(values)) for tag, values in zip((b"rXYZ", b"gXYZ", b"bXYZ"), primaries, strict=True)]
    parts += [(tag, curve) for tag in (b"rTRC", b"gTRC", b"bTRC")]
    table, body, offset = b"", b"", 128 + 4 + 12 * len(parts)
    for tag, content in parts:
        content += b"\0" * (-len(content) % 4)
        table += tag + struct.pack(">II", offset + len(body), len(content))
        body += content
    head = struct.pack(">I4sI4s4s4s", offset + len(body), b"none", 0x02100000, b"mntr", b"RGB ", b"XYZ ")
    head += struct.pack(">6H", 2026, 1, 1, 0, 0, 0) + b"acsp" + b"\0" * 28
    head += struct.pack(">3i", *(round(v * 65536) for v in white)) + b"\0" * 48
    return head + struct.pack(">I", len(parts)) + table + body


@pytest.fixture(scope="session")
def make() -> dict[str, Callable[..., object]]:
    """The makers above, by name: test folders are no packages and cannot import each other."""
    return {f.__name__: f for f in (encoded, corners, bench, camera_exif, matrix_profile)}
