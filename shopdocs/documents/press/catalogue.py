"""Reads a catalogue in the format of GNU gettext (a PO file), as far as ours go: msgid, msgstr, comments, long strings.

Strict, because a slip would print English between Spanish: an unknown line, a text told twice, or one whose
{placeholders} differ from the English is refused with its line.
"""

from __future__ import annotations

import re
from pathlib import Path

from shopdocs.documents.press.errors import PressError

LINE = re.compile(r'(?:(msgid|msgstr) )?"((?:[^"\\]|\\.)*)"\Z')
ESCAPES = {"n": "\n", "t": "\t", '"': '"', "\\": "\\"}
PLACEHOLDER = re.compile(r"\{[a-z_]*\}")


def read(path: Path) -> dict[str, str]:
    """English text -> translation; the entry of the empty text (the file's header) is left out. Raises PressError."""
    found: dict[str, str] = {}
    entry: dict[str, str] = {}
    key, begun = "", 0
    for number, line in enumerate([*path.read_text("utf-8").splitlines(), ""], 1):
        if line.startswith("#"):
            continue
        if not line.strip():
            _keep(found, entry, f"{path.name}:{begun}")
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
    return found


def _keep(found: dict[str, str], entry: dict[str, str], where: str) -> None:
    if not entry or entry.get("msgid") == "":
        return
    if set(entry) != {"msgid", "msgstr"} or not entry["msgstr"]:
        raise PressError(f"{where}: an entry has a msgid and a msgstr that is not empty")
    if entry["msgid"] in found:
        raise PressError(f"{where}: {entry['msgid']!r} stands here twice")
    if sorted(PLACEHOLDER.findall(entry["msgid"])) != sorted(PLACEHOLDER.findall(entry["msgstr"])):
        raise PressError(f"{where}: the placeholders of {entry['msgid']!r} differ in its translation")
    found[entry["msgid"]] = entry["msgstr"]
