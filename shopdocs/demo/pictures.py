"""Photos for the invented scenario, painted by our own code: nothing in them was ever before a camera.

The same arguments give the same bytes.
"""

import random
import zlib
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import datetime
from io import BytesIO

from PIL import Image
from PIL.TiffImagePlugin import IFDRational
from reportlab.lib.units import mm
from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.ttfonts import TTFont
from reportlab.pdfgen.canvas import Canvas

from .painting import covers, engine, fuel, handheld, plates, room, standing
from .painting.easel import FONTS, Colour, Easel

_Painter = Callable[[Easel, Mapping[str, str], Colour], None]
_Ground = Callable[[random.Random], Image.Image]


@dataclass(frozen=True, slots=True)
class _Scene:
    paint: _Painter
    ground: _Ground


_SCENES = {
    "serial_plate": _Scene(plates.serial_plate, room.covered),
    "hour_meter": _Scene(plates.hour_meter, room.covered),
    "emission_label": _Scene(plates.emission_label, room.covered),
    "receipt": _Scene(plates.receipt, room.bench),
    "new_part": _Scene(plates.new_part, room.bench),
    "whole_unit_saw": _Scene(handheld.saw, room.bench),
    "whole_unit_trimmer": _Scene(handheld.trimmer, room.steel_bench),
    "whole_unit_blower": _Scene(handheld.blower, room.floor),
    "whole_unit_pump": _Scene(standing.pump, room.floor),
    "whole_unit_generator": _Scene(standing.generator, room.floor),
    "whole_unit_mower": _Scene(standing.mower, room.floor),
    "cracked_fuel_line": _Scene(fuel.cracked_fuel_line, room.engine_bay),
    "fuel_line_new": _Scene(fuel.fuel_line_new, room.engine_bay),
    "cracked_tank": _Scene(fuel.cracked_tank, room.bench),
    "rusty_carburettor": _Scene(fuel.rusty_carburettor, room.mat),
    "dirty_air_filter": _Scene(fuel.dirty_air_filter, room.steel_bench),
    "air_filter_new": _Scene(fuel.new_air_filter, room.steel_bench),
    "scored_piston": _Scene(engine.scored_piston, room.mat),
    "worn_clutch": _Scene(engine.worn_clutch, room.bench),
    "ignition_module": _Scene(engine.ignition_module, room.engine_bay),
    "oil_leak": _Scene(engine.oil_leak, room.engine_bay),
    "muffler": _Scene(engine.muffler, room.bench),
    "missing_deflector": _Scene(engine.missing_deflector, room.bench),
    "burnt_engine_cover": _Scene(covers.burnt_engine_cover, room.steel_bench),
    "broken_recoil_housing": _Scene(covers.broken_recoil_housing, room.mat),
    "bent_blade": _Scene(covers.bent_blade, room.bench),
    "blade_new": _Scene(covers.new_blade, room.bench),
    "dead_stop_switch": _Scene(covers.dead_stop_switch, room.covered),
}
SUBJECTS = tuple(_SCENES)

# Colours of the invented makers.
_BODIES: tuple[Colour, ...] = (
    (36, 112, 120),
    (120, 62, 96),
    (74, 98, 140),
    (112, 96, 84),
    (150, 70, 84),
    (98, 112, 98),
)
_ORIENTATION, _EXIF_IFD, _GPS_IFD = 0x0112, 0x8769, 0x8825
_TAKEN, _TAKEN_OFFSET = 0x9003, 0x9011


def picture(
    subject: str,
    *,
    seed: int,
    taken_at: datetime,
    text: Mapping[str, str] | None = None,
    turned: bool = False,
    gps: bool = False,
) -> bytes:
    """A JPEG of 1600 x 1200 pixels of one of SUBJECTS, with the Exif notes of a camera.

    taken_at: the camera's clock; an aware time also writes its offset. text: what stands on plates
    and labels (maker, model, serial, built, hours, displacement, family, number, part, ...); a maker
    has one colour in all pictures. turned: stored lying on its side, with the note that turns it up.
    gps: with a place. Raises KeyError for an unknown subject.
    """
    scene, words = _SCENES[subject], text or {}
    rng = random.Random(f"{subject} {seed}")
    easel = Easel(scene.ground(rng), rng)
    scene.paint(easel, words, _body(words.get("maker", ""), seed))
    seen = room.photographed(easel.image, rng)
    if turned:
        seen = seen.transpose(Image.Transpose.ROTATE_90)
    out = BytesIO()
    seen.save(out, "JPEG", quality=84, exif=_notes(taken_at, turned=turned, gps=gps))
    return out.getvalue()


def receipt_pdf(text: Mapping[str, str]) -> bytes:
    """The invented receipt as a one-page PDF. text: shop, date, number, item, serial, price, tax, total, paid."""
    for weight in ("Regular", "Bold"):
        pdfmetrics.registerFont(TTFont(f"Receipt{weight}", str(FONTS / f"SourceSansPro-{weight}.ttf")))
    out = BytesIO()
    width, height = 105 * mm, 170 * mm
    page = Canvas(out, pagesize=(width, height), invariant=1)
    page.setTitle(f"Sales receipt {text.get('number', '')}".strip())
    page.setFont("ReceiptBold", 16)
    page.drawCentredString(width / 2, height - 20 * mm, text.get("shop", "Garden machines"))
    page.setFont("ReceiptRegular", 10)
    page.drawCentredString(width / 2, height - 27 * mm, "Sales receipt")
    y = height - 42 * mm
    for name, value in plates.receipt_rows(text):
        page.setFont("ReceiptBold" if name == "Total" else "ReceiptRegular", 10)
        page.drawString(12 * mm, y, name)
        page.drawRightString(width - 12 * mm, y, value)
        page.line(12 * mm, y - 2 * mm, width - 12 * mm, y - 2 * mm)
        y -= 9 * mm
    page.setFont("ReceiptRegular", 9)
    page.drawCentredString(width / 2, 14 * mm, "Keep this as proof of purchase")
    page.showPage()
    page.save()
    return out.getvalue()


def _body(maker: str, seed: int) -> Colour:
    return _BODIES[(zlib.crc32(maker.encode()) if maker else seed) % len(_BODIES)]


def _notes(taken_at: datetime, *, turned: bool, gps: bool) -> Image.Exif:
    notes = Image.Exif()
    notes[_ORIENTATION] = 6 if turned else 1
    inner = notes.get_ifd(_EXIF_IFD)
    inner[_TAKEN] = taken_at.strftime("%Y:%m:%d %H:%M:%S")
    if taken_at.utcoffset() is not None:
        offset = taken_at.strftime("%z")
        inner[_TAKEN_OFFSET] = f"{offset[:3]}:{offset[3:5]}"
    if gps:
        place = notes.get_ifd(_GPS_IFD)
        place[1], place[2] = "N", tuple(IFDRational(v) for v in (44, 12, 30))
        place[3], place[4] = "W", tuple(IFDRational(v) for v in (91, 48, 6))
    return notes
