"""Many inputs by hand: `python -m tests.fuzz tables 100_000 --seed 1`."""

import argparse
import os
import sys
import tempfile
import time
import traceback
from collections import Counter
from pathlib import Path
from random import Random

from tests.fuzz.inputs import JUDGES, folder_ready


def main() -> int:
    """Try inputs of a kind and print what came of them; 1 if one did not end well."""
    parser = argparse.ArgumentParser(prog="python -m tests.fuzz", description=__doc__)
    parser.add_argument("kind", choices=tuple(JUDGES))
    parser.add_argument("count", type=int, metavar="N", help="inputs")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--failures", type=int, default=5, help="stop at so many")
    asked = parser.parse_args()
    fates: Counter[str] = Counter()
    wrong = 0
    with tempfile.TemporaryDirectory() as name:
        os.chdir(name)
        folder_ready(Path(name))
        began = time.process_time()
        for number in range(asked.count):
            try:
                fates[
                    JUDGES[asked.kind](Random(f"{asked.seed}/{asked.kind}/{number}"), Path())
                ] += 1
            except Exception:
                wrong += 1
                print(f"input {number}:\n{traceback.format_exc()}", flush=True)
                if wrong == asked.failures:
                    break
        took_s = time.process_time() - began
    print(
        f"{fates.total() + wrong:,} {asked.kind} in {took_s:,.0f} s: {dict(fates)}, {wrong} wrong"
    )
    return 1 if wrong else 0


if __name__ == "__main__":
    sys.exit(main())
