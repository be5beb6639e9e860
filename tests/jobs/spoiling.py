"""Puts mistakes into files: into their bytes, or into the values they hold."""

from __future__ import annotations

import copy
import json
import random
from typing import Any

VALUES: tuple[Any, ...] = (
    None,
    True,
    0,
    -1,
    2**31,
    2**63,
    10**400,
    1e308,
    -0.0,
    "",
    "x",
    "\x00",
    "../../evil",
    "/etc/evil",
    "=cmd()",
    "\ud800",
    "x" * 30_000,
    [],
    {},
    [[[[]]]],
    {"a": {"b": 1}},
    "2026-01-01T00:00:00+00:00",
    "0001-01-01T00:00:00+23:59",
    "wet",
)

WORDS = (
    b"[",
    b"]",
    b"{",
    b"}",
    b'"',
    b"'",
    b"=",
    b"\n",
    b"\\u0000",
    b"\\ud800",
    b"1e999",
    b"nan",
    b"0x",
    b"[[",
    b'"""',
)


class Spoiler:
    """Makes the same mistakes for the same seed."""

    def __init__(self, chance: random.Random) -> None:
        self._chance = chance

    def spoilt(self, data: bytes) -> bytes:
        """Bytes with some flipped, overwritten, taken out, doubled or put in."""
        spoilt = bytearray(data)
        for _ in range(self._chance.choice((1, 1, 2, 4, 16))):
            at = self._chance.randrange(len(spoilt)) if spoilt else 0
            length = self._chance.choice((1, 2, 4, 30, 300))
            act = self._chance.randrange(6)
            if act == 0 and spoilt:
                spoilt[at] ^= 1 << self._chance.randrange(8)
            elif act == 1:
                spoilt[at : at + length] = self._chance.randbytes(length)
            elif act == 2:
                del spoilt[at : at + length]
            elif act == 3:
                spoilt[at:at] = spoilt[at : at + length]
            elif act == 4:
                spoilt[at:at] = self._chance.choice(WORDS)
            else:
                number = self._chance.choice((0, 1, 0xFF, 0xFFFF, 0x7FFFFFFF, 0xFFFFFFFF))
                spoilt[at : at + 4] = number.to_bytes(4, "little")
        if self._chance.random() < 0.05:
            del spoilt[self._chance.randrange(len(spoilt) + 1) :]
        return bytes(spoilt)

    def spoil_value(self, node: Any) -> None:
        """Put a strange value somewhere into a tree."""
        while True:
            keys = list(node) if isinstance(node, dict) else list(range(len(node)))
            if not keys:
                return
            key = self._chance.choice(keys)
            if isinstance(node[key], dict | list) and node[key] and self._chance.random() < 0.8:
                node = node[key]
                continue
            if self._chance.random() < 0.2:
                del node[key]
            else:
                node[key] = copy.deepcopy(self._chance.choice(VALUES))
            return

    def spoil_field(self, card: Any) -> None:
        """Change a field in the history and on the card alike, so that only its value is wrong."""
        edit = self._chance.choice(card["changes"][-1]["edits"])
        holder = {"value": json.loads(json.dumps(edit["after"]))}
        self.spoil_value(holder)
        edit["after"] = holder.get("value")
        card["fields"][edit["path"]] = holder.get("value")

    def spoil_card(self, card: Any) -> None:
        """Put mistakes into a ``job.json``, most often none that its history or its form gives away at once."""
        if self._chance.random() < 0.8:
            card["job"]["id"] = f"{self._chance.getrandbits(128):032x}"
        if self._chance.random() < 0.5:
            self.spoil_field(card)
        for _ in range(self._chance.choice((0, 0, 1, 2, 4))):
            self.spoil_value(card)
