"""The desktop viewer."""
