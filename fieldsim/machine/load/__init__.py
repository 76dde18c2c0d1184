"""What hangs on the coils, as described and as parts of a circuit."""
