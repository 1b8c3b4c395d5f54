"""Runs the tests: `python -m tests [pytest arguments]`.

First everything on SQLite with the in-process worker. Then, where PostgreSQL and Redis answer, once more all that
touches database or queue, on those. Where they do not answer, that is said loudly; with CI=true it is a failure.
"""

import os
import subprocess
import sys
from urllib.parse import urlsplit

DATABASE = os.environ.get("TEST_DATABASE_URL", "postgres://postgres@127.0.0.1:5432/shopdocs")
QUEUE = os.environ.get("TEST_REDIS_URL", "redis://127.0.0.1:6379/9")

NOTHING_CHOSEN = 5
"""How pytest ends when it collected no test."""


def missing_services() -> list[str]:
    """What does not answer, in words."""
    missing = []
    try:
        import psycopg

        where = urlsplit(DATABASE)
        psycopg.connect(
            host=where.hostname,
            port=where.port or 5432,
            user=where.username,
            password=where.password,
            dbname="postgres",
            connect_timeout=3,
        ).close()
    except Exception as error:  # noqa: BLE001 - whatever it is, it goes into the summary
        missing.append(
            f"PostgreSQL at {urlsplit(DATABASE).hostname}:{urlsplit(DATABASE).port} ({str(error).splitlines()[0]})"
        )
    try:
        import redis

        redis.Redis.from_url(QUEUE, socket_connect_timeout=3).ping()
    except Exception as error:  # noqa: BLE001 - whatever it is, it goes into the summary
        missing.append(f"Redis at {urlsplit(QUEUE).hostname}:{urlsplit(QUEUE).port} ({error})")
    return missing


def run(title: str, arguments: list[str], **variables: str) -> int:
    print(f"\n=== {title}", flush=True)
    environment = {k: v for k, v in os.environ.items() if k not in ("DATABASE_URL", "REDIS_URL", "ONLY_SERVICES")}
    spread = (
        [] if "-n" in arguments or "-x" in arguments else ["-n", str(min(4, os.cpu_count() or 1)), "--dist", "loadfile"]
    )
    slow = ["--durations=12", "--durations-min=3"]
    command = [sys.executable, "-m", "pytest", "-q", *slow, *spread, *arguments]
    return subprocess.run(command, env={**environment, **variables}).returncode


def both(first: int, again: int, arguments: list[str]) -> int:
    """The exit status of both runs. Where arguments chose only tests that need no service, the second has none: no failure."""
    return first or (0 if again == NOTHING_CHOSEN and arguments else again)


def main() -> int:
    arguments = sys.argv[1:]
    first = run("SQLite and the in-process worker: every test", arguments)
    missing = missing_services()
    if not missing:
        again = run(
            "PostgreSQL and Redis: every test that touches database or queue",
            arguments,
            DATABASE_URL=DATABASE,
            REDIS_URL=QUEUE,
            ONLY_SERVICES="1",
        )
        return both(first, again, arguments)
    bar = "!" * 100
    print(
        f"\n{bar}\nSKIPPED: the second run, of every test that touches database or queue, because these do not answer:"
    )
    print("\n".join(f"  - {line}" for line in missing))
    print("So nothing was tried on PostgreSQL, on Redis, or with a worker in a process of its own.")
    print("Start both services, or set TEST_DATABASE_URL and TEST_REDIS_URL, and run this again.\n" + bar)
    return first or (1 if os.environ.get("CI") else 0)


if __name__ == "__main__":
    sys.exit(main())
