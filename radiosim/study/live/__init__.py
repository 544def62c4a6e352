"""A growing part of a run while somebody moves a slider, until nobody waits for it any more."""
