"""Curves and bars: plain arrays in, labelled axes out."""
