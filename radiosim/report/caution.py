"""What every report of a run ends with."""

CAUTION = (
    "A simulation is not proof. Wheels off the ground, propellers off; try the failsafe on the "
    "bench; check your local radio rules."
)
