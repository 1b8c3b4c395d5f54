"""Benchmarks by name. Each measures our way and a baseline in the same run and gives their ratio."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass


@dataclass(frozen=True)
class Result:
    """One line of `python -m tests.bench`: how many times the baseline, and how many it may be."""

    name: str
    ratio: float
    goal: float
    baseline: str
    sizes: str

    def line(self) -> str:
        """The result in words, with 'met' or 'MISSED'."""
        verdict = "met" if self.ratio <= self.goal else "MISSED"
        return f"{self.name}: {self.ratio:.2f}x (goal {self.goal:.2f}x, {verdict}) of {self.baseline}; {self.sizes}"


Benchmark = Callable[[], list[Result]]
BENCHMARKS: dict[str, Benchmark] = {}


def benchmark(name: str) -> Callable[[Benchmark], Benchmark]:
    """Register a function under the name that the command line takes."""

    def keep(function: Benchmark) -> Benchmark:
        BENCHMARKS[name] = function
        return function

    return keep
