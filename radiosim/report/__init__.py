"""Results for people and for programs: terminal, JSON, CSV."""
