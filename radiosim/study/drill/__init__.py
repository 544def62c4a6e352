"""Every fault that a scenario's parts allow, drilled; and the trade-off of its timeouts."""
