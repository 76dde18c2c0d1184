"""Flux linkage of windings with magnets on their way round."""
