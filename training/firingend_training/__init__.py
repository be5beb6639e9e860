"""Rendered photographs, networks, training, evaluation and export."""
