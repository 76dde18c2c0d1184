"""Magnets, windings and flux linkage."""
