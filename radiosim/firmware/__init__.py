"""The builder's own receiver program on the simulated link, and how it differs from the model."""
