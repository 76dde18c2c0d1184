"""Closed forms of single shapes: potentials and fields."""
