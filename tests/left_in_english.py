"""What of a Spanish text is still English: words of our own sentences that Spanish does not spell so, nor any citation of a law."""

from __future__ import annotations

import re

ENGLISH = re.compile(
    r"\b(the|and|of|is|it|was|were|by|to|for|not|with|from|that|which|whether|this|after|before|until|last|days?|hours?|time|read|"
    r"taken|guide|engine|machine|warranty|shop|yes|known|nobody|owner|advice|edition|period|inside|cause|source|failed|pays|label|"
    r"claim|nothing|only|used|other|Jan|Apr|Aug|Dec)\b",
    re.IGNORECASE,
)


def left_in_english(text: str) -> list[str]:
    """Each such word with what stands around it."""
    return [text[max(0, one.start() - 30) : one.end() + 30] for one in ENGLISH.finditer(text)]
