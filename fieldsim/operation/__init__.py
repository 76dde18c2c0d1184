"""The operating point: a machine at a speed, and all that follows."""
