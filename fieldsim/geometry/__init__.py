"""The described machine, its units, its file and its clearances."""
