"""The readings of one engine against each other."""
