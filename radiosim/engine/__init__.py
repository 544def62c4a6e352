"""Two engines on one set of rules; a plan goes in, a trace comes out."""
