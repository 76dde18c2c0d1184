"""The machine and its field as pictures."""
