"""What the parts of a paper are, for readers who hear it: headings, paragraphs, tables, figures.

The flow makes nodes while it places words; the pen notes which marked pieces of which page belong to
each; the archive pass writes them into the file as its structure tree, in reading order.
"""

from __future__ import annotations


class Node:
    """One element of the structure. `kids`: nodes, or (page index, piece number) as the pen wrote them."""

    __slots__ = ("alt", "box", "kids", "tag")

    def __init__(self, tag: str, parent: Node | None = None, alt: str = "") -> None:
        self.tag, self.alt = tag, alt
        self.kids: list[Node | tuple[int, int]] = []
        self.box: tuple[float, float, float, float] | None = None
        if parent is not None:
            parent.kids.append(self)


ARTIFACT = Node("Artifact")
"""Stands for rules, footers and repeated heads: on the page, not in the story."""
