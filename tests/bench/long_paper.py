"""Time per line of a very long estimate over time per line of a long one: the layout must stay linear."""

from __future__ import annotations

import time
from dataclasses import replace

from orders.papers import estimate
from tests.bench.registry import Result, benchmark
from tests.papers_samples import CUSTOMER_JOBS, labour
from tests.papers_samples import estimate as sample

SHORT, LONG, ROUNDS = 500, 5000, 3


def per_line(lines: int, turn: int) -> float:
    """Seconds a line of one finished paper, tags and archive pass included."""
    rows = tuple(labour(f"C-{at}", f"Step {at} of turn {turn}", at % 70) for at in range(lines))
    sheet = sample(jobs=(replace(CUSTOMER_JOBS[0], labour=rows, parts=()),))
    start = time.perf_counter()
    estimate.draw(sheet, {})
    return (time.perf_counter() - start) / lines


@benchmark("long-paper")
def long_paper() -> list[Result]:
    """5,000 lines against 500."""
    estimate.draw(sample(), {})
    turns = [(per_line(SHORT, turn), per_line(LONG, turn)) for turn in range(ROUNDS)]
    short, long = (min(times) for times in zip(*turns, strict=True))
    sizes = f"{LONG} lines at {long * 1e6:.0f} us, {SHORT} lines at {short * 1e6:.0f} us"
    return [Result("long-paper", long / short, 1.3, f"time per line at {SHORT} lines", sizes)]
