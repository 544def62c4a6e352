"""How the tests run: random examples without a time limit, the same ones every time in CI."""

import os
import sys

from hypothesis import settings

# The core of the suite also runs as if an optional helper were not installed (test_choice.py).
for missing in os.environ.get("RADIOSIM_TESTS_WITHOUT", "").split():
    sys.modules[missing] = None  # type: ignore[assignment]

settings.register_profile("desk", deadline=None)
settings.register_profile("ci", deadline=None, derandomize=True, print_blob=True)
settings.load_profile("ci" if os.environ.get("CI") else "desk")
