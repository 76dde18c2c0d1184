"""Results in words: cautions, screens and the formats of numbers."""
