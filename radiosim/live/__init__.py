"""The live page's server: who may ask, what is worked out, and for whom."""
