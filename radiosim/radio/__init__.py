"""Published physics of the radio as pure functions and tables."""
