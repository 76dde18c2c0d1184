"""The page to keep."""
