"""The bench card: terminal, page, JSON and CSV."""
