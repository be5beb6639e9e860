"""Parametric plugs, places, lights and a camera: the photographs to learn from."""
