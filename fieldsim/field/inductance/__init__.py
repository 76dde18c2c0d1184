"""Self and mutual inductance of windings."""
