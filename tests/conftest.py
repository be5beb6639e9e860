"""Shared fixtures."""

import importlib
import os

import pytest
from hypothesis import settings

# A busy machine takes longer over an example than hypothesis allows; how long things take is for benchmarks/.
settings.register_profile("patient", deadline=None)
settings.load_profile("patient")

# Doctests are looked for everywhere, but several files of one name cannot be collected as modules.
collect_ignore_glob = ["conftest.py", "*/conftest.py"]


def pytest_addoption(pluginmanager: pytest.PytestPluginManager) -> None:
    """Let the other tests run where Qt lacks its system libraries; pytest-qt would stop them all."""
    if os.environ.get("FIRINGEND_REQUIRE_ALL"):
        return
    try:
        importlib.import_module("PySide6.QtWidgets")
    except ImportError:
        pluginmanager.set_blocked("pytest-qt")
