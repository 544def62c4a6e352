"""What a failsafe drill found, for the terminal, as JSON, as CSV and for a CI."""
