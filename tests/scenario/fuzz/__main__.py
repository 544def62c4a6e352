"""Many mutants by hand: `python -m tests.scenario.fuzz 1_000_000 --seed 1`."""

import argparse
import sys
import tempfile
import time
from pathlib import Path

from tests.scenario.fuzz.judge import folder_ready
from tests.scenario.fuzz.search import Seen, search, stage_of

PROGRESS_EVERY = 10_000


def main() -> int:
    """Judge mutants and print what came of them; 1 if one did not end as it must."""
    arguments = _arguments()
    began = time.monotonic()

    def told(number: int, seen: Seen) -> None:
        done = number + 1 - arguments.first
        if done % PROGRESS_EVERY == 0:
            print(f"{done:,} in {time.monotonic() - began:,.0f} s: {_fates(seen)}", flush=True)

    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        folder_ready(folder)
        numbers = range(arguments.first, arguments.first + arguments.count)
        seen = search(
            arguments.seed,
            numbers,
            folder,
            most_failures=arguments.failures,
            stage_of=(lambda _: "told") if arguments.deep else stage_of,
            on_progress=told,
            on_failure=lambda failure: print(f"\nseed {arguments.seed}, {failure}\n", flush=True),
        )
    print(f"{seen.fates.total():,} in {time.monotonic() - began:,.0f} s: {_fates(seen)}")
    for number, seconds in seen.slow:
        print(f"slow: mutant {number}: {seconds:.1f} s of processor time")
    return 1 if seen.failures else 0


def _arguments() -> argparse.Namespace:
    parser = argparse.ArgumentParser(prog="python -m tests.scenario.fuzz", description=__doc__)
    parser.add_argument("count", type=int, metavar="N", help="mutants")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--first", type=int, default=0, help="number of the first mutant")
    parser.add_argument("--failures", type=int, default=5, help="stop at so many")
    parser.add_argument("--deep", action="store_true", help="run every sound mutant, with findings")
    return parser.parse_args()


def _fates(seen: Seen) -> str:
    return ", ".join(f"{count:,} {fate}" for fate, count in sorted(seen.fates.items()))


if __name__ == "__main__":
    sys.exit(main())
