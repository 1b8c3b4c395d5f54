"""A sentence of a rule before it is said: its English and what stands in its places, so that each paper tells it in its language."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from functools import reduce
from typing import Any, NamedTuple

from shopdocs.documents.press.words import ENGLISH, Words, words

IN_ENGLISH = words(ENGLISH)


class Message(NamedTuple):
    """`values` by the name of their place; a list of names is told as 'one and other'. `many`: the English for any `number` but one.

    As JSON it is the list of these four, and `Message(*row)` is the same again.
    """

    text: str
    values: Mapping[str, str | list[str]]
    many: str = ""
    number: int = 1

    def said(self, say: Words = IN_ENGLISH) -> str:
        """The sentence in a language."""
        text = say.counted(self.text, self.many, self.number) if self.many else say(self.text)
        return text.format(**{name: _joined(value, say) for name, value in self.values.items()})


def _joined(value: str | list[str], say: Words) -> str:
    if isinstance(value, str):
        return value
    both = say("{one} and {other}")
    return reduce(lambda one, other: both.format(one=one, other=other), value)


def told(messages: Sequence[Message | Sequence[Any]], say: Words, between: str = "; ") -> str:
    """Several of them, as they are or as facts keep them."""
    return between.join(Message(*one).said(say) for one in messages)
