"""The demo's own time: a month of visits passes in seconds, and every service sees the day that the story says.

Only Django's `timezone.now` moves, which is the one clock that services read; it always runs forward.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator
from contextlib import contextmanager

from django.utils import timezone


class StoryClock:
    """A clock that is some span behind the real one, and catches up as the story goes on."""

    def __init__(self, begin: dt.datetime) -> None:
        self._real = timezone.now
        self._behind = self._real() - begin

    def now(self) -> dt.datetime:
        return self._real() - self._behind

    def jump_to(self, moment: dt.datetime) -> None:
        """Goes on at `moment`; a moment that has passed already changes nothing, so that time never runs back."""
        if moment > self.now():
            self._behind = self._real() - moment


@contextmanager
def story_time(begin: dt.datetime) -> Iterator[StoryClock]:
    """Inside the block, services live at the story's time."""
    clock = StoryClock(begin)
    original = timezone.now
    timezone.now = clock.now
    try:
        yield clock
    finally:
        timezone.now = original
