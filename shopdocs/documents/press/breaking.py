"""Lines from text: greedy, from the faces' own widths; a word too long for a line is cut."""

from __future__ import annotations

from shopdocs.documents.press.fonts import Face
from shopdocs.documents.press.turning import runs_rightward, turned

GOOD_CUTS = frozenset("/-_.,;:&?=@")


def break_lines(text: str, face: Face, size: float, width: float) -> list[str]:
    """Lines of clean `text` no wider than `width` points, as the eye meets them. A line feed starts a new paragraph.

    Always ends: each line takes at least one character. Empty text gives no line.
    """
    limit = max(width, 0.0) * 1000 / size
    get = face.widths.__getitem__
    rightward = runs_rightward(text)
    if "\n" not in text and not rightward and sum(map(get, text)) <= limit:
        return [text] if text else []
    lines: list[str] = []
    for paragraph in text.strip("\n").split("\n"):
        if rightward:
            paragraph = " ".join(word for word in paragraph.split(" ") if word)
            lines.extend(turned(_paragraph(paragraph, face, limit), paragraph))
        else:
            lines.extend(_paragraph(paragraph, face, limit))
    return lines


def shorten(text: str, face: Face, size: float, width: float) -> str:
    """`text` on one line, ended with '…' where it is too long. Only for what stands in full elsewhere."""
    text = text.replace("\n", " ")
    if face.width(text, size) > width:
        room = width - face.width("…", size)
        while text and face.width(text, size) > room:
            text = text[: max(0, min(len(text) - 1, int(len(text) * room / face.width(text, size)) + 1))]
        text = text.rstrip() + "…"
    return turned([text], text)[0] if runs_rightward(text) else text


def _paragraph(text: str, face: Face, limit: float) -> list[str]:
    get = face.widths.__getitem__
    space = face.widths[" "]
    lines: list[str] = []
    line: list[str] = []
    used = 0.0
    for word in text.split(" "):
        if not word:
            continue
        wide = sum(map(get, word))
        if line and used + space + wide <= limit:
            line.append(word)
            used += space + wide
            continue
        if line:
            lines.append(" ".join(line))
        if wide > limit:
            *whole, word = _pieces(word, face, limit)
            lines.extend(whole)
            wide = sum(map(get, word))
        line, used = [word], wide
    lines.append(" ".join(line))
    return lines


def _pieces(word: str, face: Face, limit: float) -> list[str]:
    """A word wider than a line as pieces that fit: cut after a sign in the later half of a line, else where it is full."""
    pieces: list[str] = []
    start, used, good, kept = 0, 0.0, 0, 0.0
    for at, character in enumerate(word):
        wide = face.widths[character]
        # What a late cut leaves may still be too wide with this character: then it is cut again, before it.
        while used + wide > limit and at > start:
            late = good > (start + at) // 2
            cut = good if late else at
            pieces.append(word[start:cut])
            used -= kept if late else used
            start, good = cut, 0
        used += wide
        if character in GOOD_CUTS:
            good, kept = at + 1, used
    pieces.append(word[start:])
    return pieces
