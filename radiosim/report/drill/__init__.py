"""The failsafe drill on the terminal, as JSON, CSV and JUnit XML."""
