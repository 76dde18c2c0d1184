"""Forces and torques between magnets."""
