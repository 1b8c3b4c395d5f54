"""The largest picture of each kind that is let in, from the door to its copies: memory above the idle process, and time.

Each is made first and then taken in by a fresh process, which has taken in a small one before. Beside what was measured stands
what the door had told from the header, by which it refuses; the file itself is counted in both.
"""

from __future__ import annotations

import multiprocessing
import random
import struct
import tempfile
import time
import zlib
from collections.abc import Callable, Iterator
from io import BytesIO
from pathlib import Path

import pikepdf
import pillow_heif
from PIL import Image

from shopdocs.documents.photos import reading
from shopdocs.documents.photos.examine import examine_and_show
from shopdocs.documents.photos.kinds import kind_of
from shopdocs.documents.photos.limits import Limits
from shopdocs.documents.photos.look import fingerprint, look
from shopdocs.documents.photos.memory import needed
from shopdocs.documents.photos.proof import examine_pdf
from shopdocs.documents.photos.sizes import as_jpeg, for_print, print_box
from tests.bench.registry import Result, benchmark
from tests.processes import memory

LARGEST = (8160, 6120)
SECONDS, MEGABYTES = 10, 300
Maker = Callable[[], bytes]


def scene(size: tuple[int, int], mode: str = "RGB") -> Image.Image:
    """Coloured squares of ten pixels: small in every format, and no part of it plain."""
    small = (size[0] // 10, size[1] // 10)
    grain = Image.frombytes("RGB", small, random.Random(5).randbytes(small[0] * small[1] * 3))
    return Image.blend(grain, Image.new("RGB", small, "grey"), 0.6).resize(size, Image.Resampling.NEAREST).convert(mode)


def saved(form: str, size: tuple[int, int] = LARGEST, mode: str = "RGB", **options: object) -> Maker:
    """What Pillow writes. `clear`: with an alpha channel."""

    def make() -> bytes:
        image, given, out = scene(size, mode), dict(options), BytesIO()
        if given.pop("clear", False):
            image.putalpha(image.convert("L"))
        image.save(out, form, **given)
        return out.getvalue()

    return make


def png(colour: int, depth: int, channels: int, clear: bytes = b"") -> Maker:
    """A PNG of any depth, which Pillow cannot write. colour: as in its header; clear: the body of tRNS."""

    def make() -> bytes:
        rng, packer, wide = random.Random(1), zlib.compressobj(1), channels * depth // 8
        rows = [b"\0" + b"".join(rng.randbytes(wide) * 24 for _ in range(LARGEST[0] // 24)) for _ in range(8)]
        packed = b"".join(packer.compress(rows[y // 32 % 8]) for y in range(LARGEST[1])) + packer.flush()
        head = struct.pack(">IIBBBBB", *LARGEST, depth, colour, 0, 0, 0)
        parts = [(b"IHDR", head), (b"tRNS", clear), (b"IDAT", packed), (b"IEND", b"")]
        return b"\x89PNG\r\n\x1a\n" + b"".join(
            struct.pack(">I", len(body)) + name + body + struct.pack(">I", zlib.crc32(name + body))
            for name, body in parts
            if body or name != b"tRNS"
        )

    return make


def palette(**options: object) -> Maker:
    def make() -> bytes:
        out = BytesIO()
        scene(LARGEST).quantize(64, method=Image.Quantize.FASTOCTREE).save(out, "PNG", compress_level=1, **options)
        return out.getvalue()

    return make


def deep_heic() -> bytes:
    """Ten bits a colour."""
    image, out = scene((6400, 4800)), BytesIO()
    raw = bytearray(2 * 3 * image.width * image.height)
    raw[1::2] = image.tobytes()
    pillow_heif.encode("RGB;16", image.size, bytes(raw), out, quality=40)
    return out.getvalue()


def proof() -> bytes:
    """A scan of one page beside 95,000 small parts: about as many as are looked through."""
    page, out = BytesIO(), BytesIO()
    scene(LARGEST).save(page, "JPEG", quality=90)
    with pikepdf.new() as pdf:
        pdf.add_blank_page()
        scan = pdf.make_stream(page.getvalue())
        scan.Type, scan.Subtype, scan.Filter = pikepdf.Name.XObject, pikepdf.Name.Image, pikepdf.Name.DCTDecode
        pdf.pages[0].obj.Scan = scan
        many = [pikepdf.Dictionary(Part=number) for number in range(1000)]
        pdf.Root.Parts = pikepdf.Array([pikepdf.Array(many) for _ in range(95)])
        pdf.save(out)
    return out.getvalue()


KINDS: dict[str, Maker] = {
    "PNG RGB": png(2, 8, 3),
    "PNG RGB, one colour clear": png(2, 8, 3, bytes(6)),
    "PNG RGBA": png(6, 8, 4),
    "PNG RGB of 16 bits": png(2, 16, 3),
    "PNG RGBA of 16 bits": png(6, 16, 4),
    "PNG grey": png(0, 8, 1),
    "PNG grey and alpha": png(4, 8, 2),
    "PNG grey of 16 bits": png(0, 16, 1),
    "PNG grey and alpha of 16 bits": png(4, 16, 2),
    "PNG palette": palette(),
    "PNG palette, clear": palette(transparency=bytes(range(64))),
    "JPEG RGB": saved("JPEG", quality=85),
    "JPEG RGB, progressive": saved("JPEG", quality=85, progressive=True),
    "JPEG RGB 4:4:4, progressive": saved("JPEG", (7600, 5700), quality=70, progressive=True, subsampling=0),
    "JPEG grey": saved("JPEG", mode="L", quality=85),
    "JPEG grey, progressive": saved("JPEG", mode="L", quality=85, progressive=True),
    "JPEG CMYK": saved("JPEG", mode="CMYK", quality=70),
    "JPEG CMYK, progressive": saved("JPEG", (6600, 4950), mode="CMYK", quality=70, progressive=True),
    "WebP": saved("WEBP", (4640, 3480), quality=60),
    "WebP with alpha": saved("WEBP", (4640, 3480), quality=60, clear=True),
    "WebP, lossless": saved("WEBP", (4480, 3360), lossless=True, quality=0, method=0),
    "WebP with alpha, lossless": saved("WEBP", (4480, 3360), lossless=True, quality=0, method=0, clear=True),
    "HEIC": saved("HEIF", quality=50),
    "HEIC grey": saved("HEIF", mode="L", quality=40),
    "HEIC with alpha": saved("HEIF", (6400, 4800), quality=40, clear=True),
    "HEIC 4:4:4": saved("HEIF", (6000, 4500), quality=40, chroma=444),
    "HEIC of 10 bits": deep_heic,
    "PDF": proof,
}
TURNED_AWAY: dict[str, Maker] = {
    "JPEG CMYK, progressive, of 50 million pixels": saved("JPEG", mode="CMYK", quality=60, progressive=True),
    "WebP, moving": saved("WEBP", (2000, 1500), quality=40, save_all=True, append_images=[scene((2000, 1500), "L")]),
}


def take_in(data: bytes) -> None:
    """What the door does with a picture, but for the records."""
    if kind_of(data) == "pdf":
        examine_pdf(data, limits=Limits())
        return
    _, view = examine_and_show(data, within=print_box(90, 75), limits=Limits())
    for_print(as_jpeg(view), width_mm=34, height_mm=34)
    look(view)
    fingerprint(view)


def _one(place: str, refused: bool, answers: multiprocessing.SimpleQueue[tuple[int, float, int]]) -> None:
    told: list[int] = []
    reading.refuse_heavy = _listening(reading.refuse_heavy, told)  # type: ignore[assignment]
    take_in(saved("JPEG", (640, 480))())
    told.clear()
    idle, began = memory(), time.process_time()
    try:
        take_in(Path(place).read_bytes())
        assert not refused, "was taken in"
    except ValueError:
        assert refused
    answers.put((memory("VmHWM") - idle, time.process_time() - began, told[0] if told else 0))


def _listening(real: Callable[..., None], told: list[int]) -> Callable[..., None]:
    def listen(*given: object, **named: object) -> None:
        told.append(needed(*given, named.get("layout")))  # type: ignore[arg-type]
        real(*given, **named)

    return listen


def _measured(make: Maker, refused: bool) -> tuple[float, float, float, float]:
    """Megabytes at the peak, seconds, megabytes told, and megabytes of the file."""
    context = multiprocessing.get_context("spawn")
    answers: multiprocessing.SimpleQueue[tuple[int, float, int]] = context.SimpleQueue()
    with tempfile.NamedTemporaryFile() as file:
        file.write(make())
        file.flush()
        size = file.tell()
        child = context.Process(target=_one, args=(file.name, refused, answers))
        child.start()
        child.join()
        assert child.exitcode == 0, "the picture was not dealt with as it should be"
        peak, seconds, told = answers.get()
    return peak * 1024 / 1e6, seconds, told / 1e6, size / 1e6


@benchmark("pictures")
def pictures_on_their_way_in() -> list[Result]:
    """Memory and time for the largest picture of each kind."""
    return list(_results())


def _results() -> Iterator[Result]:
    for name, make in (KINDS | TURNED_AWAY).items():
        peak, seconds, told, size = _measured(make, name in TURNED_AWAY)
        row = f"{peak:.0f} MB, told {told:.0f} MB, file {size:.1f} MB"
        yield Result(f"{name}, memory", peak / MEGABYTES, 1.0, f"{MEGABYTES} MB above the idle process", row)
        yield Result(f"{name}, time", seconds / SECONDS, 1.0, f"{SECONDS} s", f"{seconds:.1f} s")
