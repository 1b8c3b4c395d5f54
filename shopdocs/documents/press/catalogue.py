"""Reads a catalogue in the format of GNU gettext (a PO file), as far as ours go: texts, texts with a number, comments, long strings.

Strict, because a slip would print English between Spanish: an unknown line, a text told twice, one marked as fuzzy, or one whose
{placeholders} differ from the English is refused with its line.
"""

from __future__ import annotations

import gettext
import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from pathlib import Path

from shopdocs.documents.press.errors import PressError

LINE = re.compile(r'(?:(msgid|msgid_plural|msgstr|msgstr\[\d\]) )?"((?:[^"\\]|\\.)*)"\Z')
ESCAPES = {"n": "\n", "t": "\t", '"': '"', "\\": "\\"}
PLACEHOLDER = re.compile(r"\{[a-z_]*\}")
NUMBERS = 1000  # the rules of plural forms look at the last two digits; whether a number is large enough shows by then
FORMS = re.compile(r"^Plural-Forms: *nplurals=(\d); *plural=(.+?);?$", re.MULTILINE)


def one_or_more(number: int) -> int:
    """The form that English uses: 0 for one thing, else 1."""
    return 0 if number == 1 else 1


@dataclass(frozen=True)
class Catalogue:
    """A language: English text -> the same there; English singular -> its forms, of which `form` picks one for a number."""

    texts: Mapping[str, str] = field(default_factory=dict)
    forms: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    form: Callable[[int], int] = one_or_more


def read(path: Path) -> Catalogue:
    """The catalogue in a file; the entry of the empty text is its header. Raises PressError."""
    found: dict[str, tuple[str, ...]] = {}
    counted: set[str] = set()
    header, entry = "", dict[str, str]()
    key, begun = "", 0
    for number, line in enumerate([*path.read_text("utf-8").splitlines(), ""], 1):
        if line.startswith("#"):
            if line.startswith("#,") and "fuzzy" in line:
                raise PressError(f"{path.name}:{number}: a fuzzy entry is a guess; look at it, then take the mark away")
            continue
        if not line.strip():
            if entry.get("msgid") == "":
                header = entry.get("msgstr", "")
            elif entry:
                _keep(found, counted, entry, f"{path.name}:{begun}")
            entry, key = {}, ""
            continue
        match = LINE.match(line.strip())
        if match is None or not (match[1] or key):
            raise PressError(f'{path.name}:{number}: expected msgid "...", msgstr "..." or a string that goes on')
        if match[1]:
            key = match[1]
            if key in entry:
                raise PressError(f"{path.name}:{number}: {key} twice; entries are parted by an empty line")
            entry[key], begun = "", begun if entry else number
        entry[key] += re.sub(r"\\(.)", lambda escape: ESCAPES.get(escape[1], escape[0]), match[2])
    texts = {text: said[0] for text, said in found.items() if text not in counted}
    forms = {text: found[text] for text in counted}
    return Catalogue(texts, forms, _form(header, forms, path.name))


def _keep(found: dict[str, tuple[str, ...]], counted: set[str], entry: dict[str, str], where: str) -> None:
    text, many = entry.get("msgid", ""), entry.get("msgid_plural")
    said = {key: value for key, value in entry.items() if key.startswith("msgstr")}
    wanted = {"msgstr"} if many is None else {f"msgstr[{at}]" for at in range(len(said))}
    if not text or not said or set(said) != wanted or not all(said.values()):
        raise PressError(f"{where}: an entry has a msgid and a msgstr that is not empty, one for each form of a number")
    if text in found:
        raise PressError(f"{where}: {text!r} stands here twice")
    english = {tuple(sorted(PLACEHOLDER.findall(one))) for one in (text, many or text)}
    if any(tuple(sorted(PLACEHOLDER.findall(one))) not in english for one in said.values()):
        raise PressError(f"{where}: the placeholders of {text!r} differ in its translation")
    found[text] = tuple(said[key] for key in sorted(said))
    if many is not None:
        counted.add(text)


def _form(header: str, forms: Mapping[str, tuple[str, ...]], name: str) -> Callable[[int], int]:
    """Which form a number takes, by the header's Plural-Forms."""
    told = FORMS.search(header)
    if told is None:
        if forms:
            raise PressError(f"{name}: texts with a number need the header's Plural-Forms")
        return one_or_more
    short = next((text for text, said in forms.items() if len(said) != int(told[1])), None)
    if short is not None:
        raise PressError(f"{name}: {short!r} has {len(forms[short])} forms, Plural-Forms says {told[1]}")
    try:
        form = gettext.c2py(told[2])
    except ValueError as error:
        raise PressError(f"{name}: Plural-Forms cannot be read: {error}") from error
    beyond = next((number for number in range(NUMBERS) if not 0 <= form(number) < int(told[1])), None)
    if beyond is not None:
        raise PressError(f"{name}: Plural-Forms gives {beyond} a form beyond its {told[1]}")
    return form
