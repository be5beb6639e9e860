"""A photograph on disk becomes a trustworthy picture."""
