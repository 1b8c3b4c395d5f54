"""Letters that the faces of our papers lack: which file draws them, and how they are shaped.

HarfBuzz shapes what joins, stacks or changes its order (Arabic, Hebrew points, Thai, the scripts of India, marks on any
letter) and gives it back as clusters: what belongs together and is never parted, with its glyphs in place. The files are
Noto faces for each script, WenQuanYi Micro Hei for Chinese, Japanese and Korean, and Noto's plain emoji: all outlines in
one colour. A file is opened, and mapped rather than read, when its first letter comes.
"""

from __future__ import annotations

import functools
import re
import unicodedata
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Any, NamedTuple

import font_source_sans_pro
import manimgx_fonts
import paperang_p2_fonts_cjk
import uharfbuzz

UNITS = 1000
"""Units of the size in which everything here is measured."""
REGULAR, SEMIBOLD, ITALIC = "R", "S", "I"
FILES = {REGULAR: "Regular", SEMIBOLD: "Semibold", ITALIC: "It"}
WEIGHTS = {REGULAR: 400, SEMIBOLD: 600, ITALIC: 400}
SCRIPTS = (
    "Hebrew", "Arabic", "Thai", "Armenian", "Georgian", "Devanagari", "Bengali", "Gurmukhi", "Gujarati", "Tamil", "Telugu",
    "Kannada", "Malayalam", "Oriya", "Sinhala", "Lao", "Khmer", "Myanmar", "Ethiopic",
)  # fmt: skip
LETTERED = ("sourceR", "sourceS", "sourceI", "Latin")
"""The files of Latin, Greek and Cyrillic, whose letters take any mark."""
BOLDER = 0.022
"""How much wider strokes of a file without weights become for the semibold face, in parts of the size."""
JOINERS = "\u200c\u200d"
VIRAMA = 9
"""Combining class of the sign that binds a consonant to the next one."""
MOST_JOINED = 16
"""Characters of one emoji, at the most: the longest of Unicode's sequences has fewer, and an endless one would leave the page."""
SHORT = 24
"""Words shorter than this are mostly names and come again; the shapes of longer ones are not worth the memory."""
SPACING = "\u0e33\u0eb3"
"""Vowels of Thai and Lao that belong to the letter before them, though they are letters (UAX #29, SpacingMark)."""


class Cluster(NamedTuple):
    """What belongs together: its characters, its advance in thousandths of the size, and its glyphs.

    A glyph is its number in the file of `face` and `weight`, and how far right and up it stands from the cluster's start.
    """

    text: str
    advance: int
    face: str
    weight: int
    glyphs: tuple[tuple[int, int, int], ...]


def source_sans(key: str) -> Path:
    """The file of one of the three faces that carry our papers."""
    return Path(font_source_sans_pro.__file__).parent / "files" / f"SourceSansPro-{FILES[key]}.ttf"


@functools.cache
def _files() -> dict[str, Path]:
    """Each file by a name of ours, in the order in which they are asked for a letter."""
    noto, more = (Path(package.__file__).parent for package in (manimgx_fonts, paperang_p2_fonts_cjk))
    found = {f"source{key}": source_sans(key) for key in FILES}
    found["Latin"] = noto / "NotoSans[wght].ttf"
    found |= {name: noto / f"NotoSans{name}[wght].ttf" for name in SCRIPTS}
    found["han"] = more / "fonts" / "wqy-microhei.ttc"
    found["Symbols"] = noto / "NotoSansSymbols[wght].ttf"
    found["Emoji"] = noto / "NotoEmoji[wght].ttf"
    return found


@functools.cache
def _file(name: str) -> Any:
    return uharfbuzz.Face(uharfbuzz.Blob.from_file_path(str(_files()[name])))


@functools.cache
def _covered(name: str) -> Any:
    return _file(name).unicodes


@functools.cache
def font(name: str, weight: int) -> Any:
    """A file at a weight, measured in `UNITS`."""
    made = uharfbuzz.Font(_file(name))
    made.scale = (UNITS, UNITS)
    if _file(name).has_var_data:
        made.set_variations({"wght": weight})
    elif weight > 400 and not name.startswith("source"):
        made.synthetic_bold = (BOLDER, BOLDER, False)
    return made


@functools.lru_cache(maxsize=16384)
def extends(character: str) -> bool:
    """Whether a character belongs to the one before it."""
    return (
        character in JOINERS
        or character in SPACING
        or unicodedata.category(character)[0] == "M"
        or _modifies(character)
    )


def _modifies(character: str) -> bool:
    """Skin tones of emoji, and the letters hidden in flags of regions."""
    return "\U0001f3fb" <= character <= "\U0001f3ff" or "\U000e0020" <= character <= "\U000e007f"


def graphemes(text: str) -> Iterator[str]:
    """`text` in pieces that a reader takes for one sign: a letter with its marks, an emoji with its parts (after UAX #29)."""
    start = 0
    while start < len(text):
        end = _end(text, start)
        yield text[start:end]
        start = end


def parts(text: str, plain: re.Pattern[str]) -> Iterator[tuple[str, bool]]:
    """`text` as stretches of what `plain` matches, True, and as the single graphemes between them, False."""
    at = 0
    while at < len(text):
        found = plain.match(text, at)
        end = found.end() if found else at
        if at < end < len(text) and extends(text[end]):
            end -= 1  # the last letter has a mark
        whole = end > at
        end = end if whole else _end(text, at)
        yield text[at:end], whole
        at = end


def _end(text: str, start: int) -> int:
    """Where the grapheme that begins at `start` ends."""
    at = start + 1
    while at < len(text) and (extends(text[at]) or _goes_on(text, start, at)) and not _ends(text[at - 1]):
        at += 1
    return at


def _ends(character: str) -> bool:
    """A sign that steers: nothing belongs to it (GB4)."""
    return unicodedata.category(character) in ("Cc", "Cf", "Zl", "Zp") and not extends(character)


def _goes_on(text: str, start: int, at: int) -> bool:
    """An emoji joined to another, or the second letter of a flag."""
    if text[at - 1] == "\u200d" and at - start < MOST_JOINED:
        return text[at] > "\u2190" and unicodedata.category(text[at]) in ("So", "Cn") and text[start] > "\u2190"
    second = text[at]
    return "\U0001f1e6" <= second <= "\U0001f1ff" and at == start + 1 and "\U0001f1e6" <= text[start] <= "\U0001f1ff"


@functools.lru_cache(maxsize=16384)
def face_of(grapheme: str, key: str) -> str | None:
    """The file that can draw all of `grapheme` beside the face `key`, each mark in its place; None: no file can."""
    first, *more = [ord(one) for one in grapheme if not invisible(one)] or [0]
    for name in _asked(key):
        covered = _covered(name)
        if first in covered and all(code in covered for code in more) and (not more or _placed(grapheme, name, key)):
            return name
    return None


def _placed(grapheme: str, name: str, key: str) -> bool:
    """Whether the file says where the marks of a letter belong: one that it does not know stays behind the letter."""
    if name not in LETTERED:
        return True
    return not any(
        (right, up) == (cluster.advance, 0)
        for cluster in shape(grapheme, name, key, False)
        for _, right, up in cluster.glyphs[1:]
    )


@functools.cache
def _asked(key: str) -> tuple[str, ...]:
    """The files in the order in which they are asked for a letter beside the face `key`: its own, then the upright one."""
    upright = SEMIBOLD if key == SEMIBOLD else REGULAR
    return (f"source{key}", f"source{upright}", *(name for name in _files() if not name.startswith("source")))


def invisible(character: str) -> bool:
    """Whether a character is what only says how its neighbours are to be drawn."""
    return character in JOINERS or "\ufe00" <= character <= "\ufe0f" or "\U000e0020" <= character <= "\U000e007f"


def shape(text: str, name: str, key: str, rightward: bool) -> tuple[Cluster, ...]:
    """`text`, of one script and one direction, as clusters in reading order, drawn by the file `name` beside the face `key`."""
    return _known(text, name, key, rightward) if len(text) < SHORT else _shape(text, name, key, rightward)


def _shape(text: str, name: str, key: str, rightward: bool) -> tuple[Cluster, ...]:
    weight = WEIGHTS[key]
    buffer = uharfbuzz.Buffer()
    buffer.add_str(text)
    buffer.guess_segment_properties()
    buffer.language = "und"  # and not that of the machine
    buffer.direction = "rtl" if rightward else "ltr"
    uharfbuzz.shape(font(name, weight), buffer)
    pens: dict[int, int] = {}
    glyphs: dict[int, list[tuple[int, int, int]]] = {}
    for info, place in zip(buffer.glyph_infos, buffer.glyph_positions, strict=True):
        pen = pens.setdefault(info.cluster, 0)
        glyphs.setdefault(info.cluster, []).append((info.codepoint, pen + place.x_offset, place.y_offset))
        pens[info.cluster] = pen + place.x_advance
    starts = sorted(glyphs)
    ends = [*starts[1:], len(text)]
    return tuple(
        Cluster(text[start:end], pens[start], name, weight, tuple(glyphs[start]))
        for start, end in zip(starts, ends, strict=True)
    )


_known = functools.lru_cache(maxsize=2048)(_shape)


@functools.lru_cache(maxsize=4096)
def advance(character: str, key: str) -> int:
    """How wide a character is by itself, in thousandths of the size; 0 where no file has it."""
    name = face_of(character, key)
    return sum(cluster.advance for cluster in shape(character, name, key, False)) if name else 0


Contour = list[tuple[int, int, bool]]


@functools.cache
def _steps() -> Any:
    """What HarfBuzz calls as it draws: each step adds its points to the list of contours that it is handed."""

    def move(x: float, y: float, contours: Any) -> None:
        contours.append([(x, y, True)])

    def line(x: float, y: float, contours: Any) -> None:
        contours[-1].append((x, y, True))

    def curve(control_x: float, control_y: float, x: float, y: float, contours: Any) -> None:
        contours[-1] += [(control_x, control_y, False), (x, y, True)]

    steps = uharfbuzz.DrawFuncs()
    steps.set_move_to_func(move)
    steps.set_line_to_func(line)
    steps.set_quadratic_to_func(curve)
    return steps


def outline(cluster: Cluster) -> list[Contour]:
    """The contours of a cluster's glyphs where they stand, as TrueType takes them: quadratic, in whole units."""
    out: list[Contour] = []
    for glyph, right, up in cluster.glyphs:
        drawn: list[list[tuple[float, float, bool]]] = []
        font(cluster.face, cluster.weight).draw_glyph(glyph, _steps(), drawn)
        out += [whole for contour in drawn if (whole := _whole(contour, right, up))]
    return out


def _whole(contour: Sequence[tuple[float, float, bool]], right: int, up: int) -> Contour:
    """A contour moved to its place and rounded, its end not repeating its start; nothing for one without an inside."""
    points = [(round(x) + right, round(y) + up, on) for x, y, on in contour]
    if len(points) > 1 and points[-1] == points[0]:
        points.pop()
    return points if len(points) > 2 else []
