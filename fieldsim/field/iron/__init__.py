"""Linear iron: the magnetic charge that a field draws to its surface."""
