"""Running a piece of a test in a process of its own: its memory can be measured, and a crash is seen, not suffered."""

from __future__ import annotations

import multiprocessing
from collections.abc import Callable
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path
from typing import Any


def memory(which: str = "VmRSS") -> int:
    """Kilobytes of this process now, or at most so far ('VmHWM'), by Linux's books."""
    lines = Path("/proc/self/status").read_text().splitlines()
    return next(int(line.split()[1]) for line in lines if line.startswith(f"{which}:"))


def in_a_process(function: Callable[..., Any], *given: Any, seconds: float = 300) -> Any:
    """What `function`, of a module's top level, gives in a fresh process. Raises when that dies or takes too long."""
    with ProcessPoolExecutor(1, mp_context=multiprocessing.get_context("spawn")) as pool:
        return pool.submit(function, *given).result(timeout=seconds)
