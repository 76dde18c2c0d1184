"""The described machine: its parts, its parameters and the distances between them."""
