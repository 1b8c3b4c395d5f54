"""A claim with 12 photos of 12 megapixels, from the cameras' files to the finished PDF, over libjpeg's scaled decode.

The baseline does the least that any way must do: open each file, let libjpeg decode it at the scale that suffices, shrink it
to the printed size, write it as JPEG. Ours does the same with every check, colour profile and turn, then draws the claim with
tags and archive pass. The peak of memory is that of a fresh process, above the same process before its first picture.
"""

from __future__ import annotations

import functools
import hashlib
import multiprocessing
import random
import tempfile
import time
from collections.abc import Callable, Iterable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from io import BytesIO
from pathlib import Path

from PIL import Image, ImageDraw

from shopdocs.documents.photos.limits import Limits
from shopdocs.documents.photos.sizes import for_print
from shopdocs.documents.press.facts import Photo
from tests.bench.registry import Result, benchmark
from tests.papers_samples import PHOTOS, PICTURES
from tests.papers_samples import claim as sample
from tests.processes import memory
from warranty.papers import claim

COUNT, SIZE = 12, (4000, 3000)
WIDTH_MM, HEIGHT_MM = 90, 75
GOAL = (709, 532)
ROUNDS = 5


@functools.cache
def shots() -> tuple[bytes, ...]:
    """Twelve pictures with detail and grain as a phone writes them; every second one lies on its side."""
    return tuple(_shot(seed) for seed in range(COUNT))


def _shot(seed: int) -> bytes:
    rng = random.Random(seed)
    grain = Image.frombytes("RGB", (500, 375), rng.randbytes(500 * 375 * 3)).resize(SIZE, Image.Resampling.BILINEAR)
    scene = Image.frombytes("RGB", (12, 9), rng.randbytes(324)).resize(SIZE, Image.Resampling.BICUBIC)
    image = Image.blend(scene, grain, 0.12)
    pen = ImageDraw.Draw(image)
    for _ in range(60):
        x, y = rng.randrange(SIZE[0]), rng.randrange(SIZE[1])
        pen.ellipse((x, y, x + rng.randrange(40, 500), y + rng.randrange(40, 500)), outline="black", width=7)
    exif = Image.Exif()
    exif[0x0112] = 6 if seed % 2 else 1
    out = BytesIO()
    image.save(out, "JPEG", quality=90, exif=exif)
    return out.getvalue()


def scaled(data: bytes) -> bytes:
    """The limit: scaled decode, one resize, encode."""
    with Image.open(BytesIO(data), formats=["JPEG"]) as image:
        image.draft("RGB", GOAL)
        small = image.resize(GOAL, Image.Resampling.BILINEAR)
    out = BytesIO()
    small.save(out, "JPEG", quality=82)
    return out.getvalue()


def printed(data: bytes) -> bytes:
    return for_print(data, width_mm=WIDTH_MM, height_mm=HEIGHT_MM, limits=Limits())


def ours(made: Iterable[bytes], seed: int = 0) -> bytes:
    """The claim's PDF with the pictures that `made` gives, ready for print."""
    photos, pictures = [], {}
    for at, data in enumerate(made):
        key = hashlib.sha256(data).hexdigest()
        shown: Photo = replace(PHOTOS[3], number=at + 1, caption=f"View {at + 1} of claim {seed}", sha256=key)
        photos.append(shown)
        pictures[key] = data
    return claim.draw(sample(photos=tuple(photos), number=f"C-{seed}"), pictures).pdf


def _least(clock: Callable[[], float], *ways: Callable[[], object]) -> list[float]:
    """The shortest time of each way by this clock, tried in turns."""
    times: list[list[float]] = [[] for _ in ways]
    for _ in range(ROUNDS):
        for at, way in enumerate(ways):
            start = clock()
            way()
            times[at].append(clock() - start)
    return [min(each) for each in times]


def _peak(folder: str, answers: multiprocessing.SimpleQueue[tuple[int, int]]) -> None:
    """In a process of its own, as a worker: idle, then with one claim drawn, its files read one by one; kilobytes."""
    claim.draw(sample(number="C-warm"), PICTURES)  # fonts, words and profile are loaded in an idle worker
    idle = memory()
    pdf = ours(printed(place.read_bytes()) for place in sorted(Path(folder).iterdir()))
    answers.put((memory("VmHWM") - idle, len(pdf)))


@benchmark("claim")
def claim_with_photos() -> list[Result]:
    """Time on one thread and on two, memory, and size of a claim with 12 photos."""
    shots()
    # On one thread the process's own time counts, so that a busy machine does not matter. Two threads need two free cores.
    limit, one = _least(
        time.process_time, lambda: [scaled(data) for data in shots()], lambda: ours(map(printed, shots()))
    )
    with ThreadPoolExecutor(2) as pool:
        alone, two = _least(
            time.perf_counter,
            lambda: [scaled(data) for data in shots()],
            lambda: ours(pool.map(printed, shots())),
        )
    context = multiprocessing.get_context("spawn")  # a fresh process: nothing of this one's memory
    answers: multiprocessing.SimpleQueue[tuple[int, int]] = context.SimpleQueue()
    with tempfile.TemporaryDirectory() as folder:
        for at, data in enumerate(shots()):
            (Path(folder) / f"{at:02}.jpg").write_bytes(data)
        child = context.Process(target=_peak, args=(folder, answers))
        child.start()
        memory, size = answers.get()
        child.join()
    sizes = f"{COUNT} photos of {SIZE[0]} x {SIZE[1]}, {one * 1000:.0f} against {limit * 1000:.0f} ms"
    return [
        Result("claim, one thread", one / limit, 1.5, "scaled decode, resize and encode, one thread", sizes),
        Result("claim, two threads", two / alone, 0.9, "the same baseline on one thread", f"{two * 1000:.0f} ms"),
        Result("claim, memory", memory / 1024 / 80, 1.0, "80 MB above the idle worker", f"{memory / 1024:.0f} MB"),
        Result("claim, file", size / 1_000_000, 1.0, "1 MB", f"{size / 1000:.0f} KB"),
    ]
