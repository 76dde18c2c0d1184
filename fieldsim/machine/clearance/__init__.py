"""Smallest distances between parts, and which of them collide."""
