"""Flux linkage, EMF and what a small hand-cranked magnet generator will light."""

__version__ = "0.1.0"
