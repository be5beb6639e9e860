"""Shared fixtures."""

# Doctests are looked for everywhere, but several files of one name cannot be collected as modules.
collect_ignore_glob = ["conftest.py", "*/conftest.py"]
