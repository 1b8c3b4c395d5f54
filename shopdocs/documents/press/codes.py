"""The QR code that leads from a paper back to its record, drawn as vector rectangles."""

from __future__ import annotations

import functools
from typing import Any

import zxingcpp

from shopdocs.documents.press.errors import PressError

LONGEST = 200
# At 150 dots an inch a module of 1.6 points is over three dots: enough for an office scanner.
MODULE = 1.6


@functools.lru_cache(maxsize=256)
def qr(text: str) -> tuple[int, str]:
    """Modules a side, and the PDF path that fills the dark ones in a square of that side.

    Raises PressError for an empty text, one longer than 200 characters, or one beyond plain ASCII, which scanners
    read in different ways.
    """
    if not text.isascii() or not text.isprintable():
        raise PressError(f"code: {text!r} holds other than plain ASCII signs; percent-encode the address")
    if not text or len(text) > LONGEST:
        raise PressError(f"code: {len(text)} characters; the code on a paper holds 1 to {LONGEST}")
    code = zxingcpp.create_barcode(text, zxingcpp.BarcodeFormat.QRCode, ec_level="M")
    image: Any = code.to_image(scale=1, add_quiet_zones=False)
    side = int(image.shape[0])
    flat = memoryview(image).tobytes()
    rows = [flat[at * side : (at + 1) * side] for at in range(side)]
    path = "\n".join(f"{x} {side - y - h} {w} {h} re" for x, y, w, h in _rectangles(rows))
    return side, path


def _rectangles(rows: list[bytes]) -> list[tuple[int, int, int, int]]:
    """Dark modules (value 0) as few rectangles: runs along a row, grown over equal runs below."""
    growing: dict[tuple[int, int], list[int]] = {}
    done: list[tuple[int, int, int, int]] = []
    for y, row in enumerate([*rows, b""]):
        here = set(_dark_runs(row))
        for run in [run for run in growing if run not in here]:
            top, height = growing.pop(run)
            done.append((run[0], top, run[1], height))
        for run in here:
            growing.setdefault(run, [y, 0])[1] += 1
    return sorted(done, key=lambda box: (box[1], box[0]))


def _dark_runs(row: bytes) -> list[tuple[int, int]]:
    out: list[tuple[int, int]] = []
    start = -1
    for x, value in enumerate(row + b"\xff"):
        if value == 0 and start < 0:
            start = x
        elif value and start >= 0:
            out.append((start, x - start))
            start = -1
    return out
