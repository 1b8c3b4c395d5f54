"""Two thousand damaged pictures: each is taken or refused, soon, in little memory, and never crashes the door."""

import random
import time
import warnings
from pathlib import Path

import pytest

from shopdocs.documents.photos.examine import examine_and_show
from shopdocs.documents.photos.limits import Limits
from shopdocs.documents.photos.look import look
from shopdocs.documents.photos.refusal import PictureRefused
from shopdocs.documents.photos.sizes import as_jpeg
from tests.processes import in_a_process, memory

KINDS = ["JPEG", "progressive", "PNG", "WEBP", "HEIF", "MPO"]
EACH = 334
SECONDS = 10.0
MEGABYTES = 300


def originals(make):
    scene, notes = make["bench"](5, (240, 180)), make["camera_exif"](6)
    profile = make["matrix_profile"](((0.5, 0.25, 0.0), (0.3, 0.7, 0.05), (0.15, 0.05, 0.78)))
    plain = {
        form: make["encoded"](scene, form, exif=notes, icc_profile=profile) for form in ("JPEG", "PNG", "WEBP", "HEIF")
    }
    plain["progressive"] = make["encoded"](scene, "JPEG", progressive=True, exif=notes)
    plain["MPO"] = make["encoded"](scene, "MPO", save_all=True, append_images=[make["corners"](80, 60)])
    return plain


def mutated(data, rng):
    out = bytearray(data)
    way = rng.randrange(5)
    if way == 0:  # headers are where decoders trust most
        for _ in range(rng.randrange(1, 12)):
            out[rng.randrange(12, min(700, len(out)))] = rng.randrange(256)
    elif way == 1:
        for _ in range(rng.randrange(1, 60)):
            out[rng.randrange(len(out))] = rng.randrange(256)
    elif way == 2:
        start = rng.randrange(len(out))
        del out[start : start + rng.randrange(1, 300)]
    elif way == 3:
        start = rng.randrange(len(out))
        out[start:start] = rng.randbytes(rng.randrange(1, 300))
    else:
        start = rng.randrange(len(out) - 4)
        out[start : start + 4] = rng.choice([b"\xff" * 4, b"\0" * 4, b"\x7f\xff\xff\xff"])
    return bytes(out)


def trial(place: str, kind: str) -> dict[str, object]:
    """In a process of its own: what became of the damaged pictures, the slowest of them, and the memory at its peak."""
    data, told = Path(place).read_bytes(), {"taken": 0, "refused": 0, "slowest": 0.0}
    warnings.simplefilter("ignore")  # decoders remark on the damage that is done to them here
    idle = memory("VmRSS")
    for number in range(EACH):
        broken = mutated(data, random.Random(f"{kind} {number}"))
        began = time.process_time()
        try:
            picture, view = examine_and_show(broken, within=(709, 591), limits=Limits())
            told["taken"] += 1
            assert 0 < picture.width * picture.height <= Limits().max_pixels
            # What the door took, the later steps can draw.
            assert as_jpeg(view).startswith(b"\xff\xd8")
            look(view)
        except PictureRefused as fault:
            told["refused"] += 1
            assert fault.problem
            assert fault.remedy
        told["slowest"] = max(told["slowest"], time.process_time() - began)
    return {**told, "megabytes": (memory("VmHWM") - idle) / 1024}


@pytest.mark.parametrize("kind", KINDS)
def test_a_damaged_picture_is_taken_or_refused_and_never_more(make, kind, tmp_path):
    place = tmp_path / "original"
    place.write_bytes(originals(make)[kind])
    told = in_a_process(trial, str(place), kind)
    assert told["taken"] + told["refused"] == EACH and told["refused"] > 0
    assert told["slowest"] < SECONDS
    assert told["megabytes"] < MEGABYTES
