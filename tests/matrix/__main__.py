"""An installed radiosim on each Python found, with lowest and newest versions: `.ci/run --matrix`.

The wheel with the newest of all that it needs, the sdist with the lowest that have wheels for that
Python; outside of the checkout, as another user, without a home and the like. All cells must
write the same figures, byte for byte.
"""

import argparse
import sys
import tempfile
from pathlib import Path

from tests.matrix.installed import NotInstalledError, installed, packed, pythons
from tests.matrix.surroundings import SURROUNDINGS, another_user, tried


def main() -> int:
    """Try all and print the table; 1 if anything is not as it must be."""
    parser = argparse.ArgumentParser(prog="python -m tests.matrix", description=__doc__)
    parser.add_argument("--python", action="append", help="only this version, such as 3.12")
    parser.add_argument("--versions", choices=("lowest", "newest"))
    asked = parser.parse_args()
    found = [
        entry for entry in pythons() if not asked.python or entry[0].startswith(tuple(asked.python))
    ]
    wrong, usual = 0, {}
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        folder.chmod(0o755)
        made = packed(folder, found[0][1])
        for version, python in found:
            for versions in (asked.versions,) if asked.versions else ("newest", "lowest"):
                cell = folder / f"{version}-{versions}"
                is_lowest = versions == "lowest"
                what = made.sdist if is_lowest else made.wheel
                print(f"{version}, {versions}, {what.name}", flush=True)
                try:
                    own, needed = installed(cell / "venv", python, what, is_lowest=is_lowest)
                except NotInstalledError as error:
                    wrong += 1
                    print(f"  not installed: {error}", flush=True)
                    continue
                user = another_user(own)
                print(f"  with {needed}, as {user.text}", flush=True)
                for surrounding in SURROUNDINGS:
                    seen = tried(own, user, cell, surrounding)
                    told = list(seen.wrongs)
                    for file, text in seen.results.items():
                        if usual.setdefault(file, text) != text:
                            told.append(f"{file}: other bytes than the first cell wrote")
                    wrong += bool(told)
                    print(f"  {surrounding}: {'; '.join(told) or 'well'}", flush=True)
    print(f"{len(found)} Pythons, {wrong} wrong")
    return 1 if wrong or not found else 0


if __name__ == "__main__":
    sys.exit(main())
