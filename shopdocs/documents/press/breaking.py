"""Lines from text: greedy, from the faces' own widths; a word too long for a line is cut."""

from __future__ import annotations

from shopdocs.documents.press.fonts import Face

GOOD_CUTS = frozenset("/-_.,;:&?=@")


def break_lines(text: str, face: Face, size: float, width: float) -> list[str]:
    """Lines of clean `text` no wider than `width` points. A line feed starts a new line.

    Always ends: each line takes at least one character. Empty text gives no line.
    """
    limit = max(width, 0.0) * 1000 / size
    get = face.widths.__getitem__
    if "\n" not in text and sum(map(get, text)) <= limit:
        return [text] if text else []
    lines: list[str] = []
    for paragraph in text.strip("\n").split("\n"):
        lines.extend(_paragraph(paragraph, face, limit))
    return lines


def shorten(text: str, face: Face, size: float, width: float) -> str:
    """`text` on one line, ended with '…' where it is too long. Only for what stands in full elsewhere."""
    text = text.replace("\n", " ")
    if face.width(text, size) <= width:
        return text
    room = width - face.width("…", size)
    while text and face.width(text, size) > room:
        text = text[: max(0, min(len(text) - 1, int(len(text) * room / face.width(text, size)) + 1))]
    return text.rstrip() + "…"


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
        while wide > limit and len(word) > 1:
            cut = _cut(word, face, limit)
            lines.append(word[:cut])
            word = word[cut:]
            wide = sum(map(get, word))
        line, used = [word], wide
    lines.append(" ".join(line))
    return lines


def _cut(word: str, face: Face, limit: float) -> int:
    """Where to cut a word wider than a line: after a sign in its later half, else where the line is full."""
    used = 0.0
    good = 0
    for at, character in enumerate(word):
        used += face.widths[character]
        if used > limit and at:
            return good if good > at // 2 else at
        if character in GOOD_CUTS:
            good = at + 1
    return max(1, len(word) - 1)
