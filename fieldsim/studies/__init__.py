"""Questions that run the whole chain many times."""
