"""How often nuisance trips come where they are too rare to be seen: multilevel splitting.

A run in which a stream has gone unfed for a while is worth another try. Wherever the last feed of
its timer lies a first level back, the run is copied, and the copies draw their losses and jitters
afresh; those that go unfed to the next level are copied again, and so on to the timeout. The rate
of trips is the rate of first crossings times the shares that got from each level to the next. That
is right on average whatever the levels are; a pilot on starts of its own chooses them, so that no
step is rare. Groups of starts are estimated apart, and the interval is taken over groups.

Sources: P. Glasserman, P. Heidelberger, P. Shahabuddin, T. Zajic, "Multilevel splitting for
estimating rare event probabilities", Operations Research 47 (1999); M. Villén-Altamirano,
J. Villén-Altamirano, "RESTART: a method for accelerating rare event simulations", 13th
International Teletraffic Congress (1991); from memory.
"""

from radiosim.study.rare._estimate import estimate_trips, with_rare
from radiosim.study.rare._reach import REACH_HOURS, beside_a_count, within_reach

__all__ = ["REACH_HOURS", "beside_a_count", "estimate_trips", "with_rare", "within_reach"]
