"""Letters of text that runs from right to left: those of Arabic joined. `turning` puts a line into the order in which it is seen.

Hebrew needs no joining. Arabic letters take their joined shapes from Unicode's presentation forms, the ones that a font
without layout tables can print; short vowel marks have none and are reported.
"""

from __future__ import annotations

import functools
import re
import unicodedata
from typing import Any

ARABIC = re.compile("[\u0600-\u06ff]")
LETTERS = frozenset(
    [chr(code) for code in (*range(0x05D0, 0x05EB), 0x05BE, 0x05F3, 0x05F4)]
    + [
        chr(code)
        for code in (*range(0x0621, 0x063B), *range(0x0641, 0x064B), *range(0x0660, 0x066A), 0x060C, 0x061B, 0x061F)
    ]
)
"""What may be printed of the blocks whose letters join or run from right to left."""


@functools.cache
def _reshaper() -> Any:
    import arabic_reshaper

    # Only lam with alef: the other ligatures are ornaments that few fonts have.
    wanted = {"LAM WITH ALEF": True, "LAM WITH ALEF WITH HAMZA ABOVE": True, "LAM WITH ALEF WITH HAMZA BELOW": True}
    names = dict.fromkeys(("ARABIC LIGATURE ALLAH", "ARABIC LIGATURE BISMILLAH AR-RAHMAN AR-RAHEEM"), False)
    return arabic_reshaper.ArabicReshaper(
        {**names, **wanted, "LAM WITH ALEF WITH MADDA ABOVE": True, "delete_harakat": True}
    )


def joined(text: str) -> str:
    """`text` with Arabic letters in their joined shapes, still in reading order."""
    if text.isascii() or not ARABIC.search(text):
        return text
    return "".join(map(_standing_alone, _reshaper().reshape(text)))


@functools.lru_cache(maxsize=512)
def _standing_alone(character: str) -> str:
    """A letter that joins none is the plain letter: fonts draw that alone, and often have no second name for it."""
    if unicodedata.name(character, "").endswith("ISOLATED FORM"):
        plain = unicodedata.normalize("NFKC", character)
        return plain if len(plain) == 1 else character
    return character
