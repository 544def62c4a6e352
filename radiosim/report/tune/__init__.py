"""A tuning on the terminal, as JSON and CSV, and as a C header."""
