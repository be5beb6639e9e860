"""What a command is to the parser."""

from __future__ import annotations

import argparse
from typing import Protocol


class Commands(Protocol):
    """Where a command declares itself; argparse keeps the class of it private."""

    def add_parser(self, name: str, *, help: str, description: str) -> argparse.ArgumentParser:
        """Add a command."""
        ...
