"""Files spoiled as disks, transfers and people do."""

from __future__ import annotations

from pathlib import Path


def spoil(file: Path, damage: str) -> None:
    """Cut a file short, flip a byte of it, empty it or write words over it; else leave it be."""
    data = bytearray(file.read_bytes())
    if damage == "flipped":
        data[len(data) // 2] ^= 0xFF
    file.write_bytes(
        {"cut": data[: len(data) // 2], "flipped": data, "emptied": b"", "words": b"words"}.get(
            damage, data
        )
    )
