"""Progress of what takes longer than a second: a bar on a terminal, plain lines elsewhere."""

from __future__ import annotations

import sys
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Protocol

from tqdm import tqdm


class Teller(Protocol):
    def __call__(self, words: str) -> None: ...


@contextmanager
def progress(total: int, title: str) -> Iterator[Teller]:
    """Gives a function to call once per step with a few words on what was done."""
    if sys.stderr.isatty():
        with tqdm(total=total, desc=title, bar_format="{desc}  {bar}  {n_fmt}/{total_fmt}  {postfix}") as bar:

            def step(words: str) -> None:
                bar.set_postfix_str(words[:60])
                bar.update()

            yield step
        return
    done = 0

    def line(words: str) -> None:
        nonlocal done
        done += 1
        print(f"{title}: {done} of {total}: {words}", file=sys.stderr, flush=True)

    yield line
