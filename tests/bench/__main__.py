"""`python -m tests.bench [NAME ...]`: run the benchmarks, all or those named, and print a line for each result.

Only ratios carry over between machines. A result over its goal ends the run with status 1.
"""

from __future__ import annotations

import importlib
import pkgutil
import sys

import tests.bench as here
from tests.bench.registry import BENCHMARKS


def main(names: list[str]) -> int:
    """Run `names`, or every benchmark when none is named."""
    for module in pkgutil.iter_modules(here.__path__):
        if module.name not in ("__main__", "registry"):
            importlib.import_module(f"tests.bench.{module.name}")
    unknown = [name for name in names if name not in BENCHMARKS]
    if unknown:
        print(f"no benchmark named {', '.join(unknown)}; there are: {', '.join(sorted(BENCHMARKS))}")
        return 2
    missed = False
    for name in names or sorted(BENCHMARKS):
        for result in BENCHMARKS[name]():
            print(result.line(), flush=True)
            missed |= result.ratio > result.goal
    return int(missed)


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
