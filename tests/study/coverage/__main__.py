"""How often what studies print is true: `python -m tests.study.coverage [STUDIES [KIND ...]]`."""

import sys

from tests.study.coverage.claims import STUDIES
from tests.study.coverage.tables import rows_of

LONG_RUN = 3_000
CHANCE = 0.001


def main(studies: int, kinds: tuple[str, ...]) -> None:
    """Print a table as it comes."""
    print("| scenario | what is claimed | told | held | of | share | |")
    print("|---|---|---|---|---|---|---|")
    for row in rows_of(studies, LONG_RUN, kinds):
        few = "" if row.is_enough(CHANCE) else "TOO FEW"
        print(
            f"| {row.scenario} | {row.claim} | {row.told:.3g} | {row.held} | {row.made} "
            f"| {row.share:.3f} | {few} |",
            flush=True,
        )


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 200, tuple(sys.argv[2:]) or tuple(STUDIES))
