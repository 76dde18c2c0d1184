"""Flux linkage against angle and the EMF it makes."""
