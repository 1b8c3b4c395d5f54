"""Three hundred damaged pictures: each is taken or refused, soon, and never crashes the door."""

import random
import time

import pytest

from shopdocs.documents.photos.examine import examine
from shopdocs.documents.photos.limits import Limits
from shopdocs.documents.photos.look import look
from shopdocs.documents.photos.refusal import PictureRefused
from shopdocs.documents.photos.sizes import for_print, working_copy

KINDS = ["JPEG", "progressive", "PNG", "WEBP", "HEIF", "MPO"]
EACH = 50
SECONDS = 3.0


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


@pytest.mark.filterwarnings("ignore::UserWarning:PIL")  # decoders remark on the damage that is done to them here
@pytest.mark.parametrize("kind", KINDS)
def test_a_damaged_picture_is_taken_or_refused_and_never_more(make, kind):
    data = originals(make)[kind]
    taken = refused = 0
    for number in range(EACH):
        broken = mutated(data, random.Random(f"{kind} {number}"))
        began = time.perf_counter()
        try:
            picture = examine(broken, limits=Limits())
            taken += 1
            assert 0 < picture.width * picture.height <= Limits().max_pixels
            # What the door took, the later steps can draw.
            assert for_print(working_copy(broken), width_mm=40).startswith(b"\xff\xd8")
            look(broken)
        except PictureRefused as fault:
            refused += 1
            assert fault.problem
            assert fault.remedy
        assert time.perf_counter() - began < SECONDS, f"{kind} {number}"
    assert taken + refused == EACH
    assert refused > 0
