"""The functions that locked sites use give what RFC 7914, RFC 5869 and NIST's validation program publish."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from journal.locking.cipher import DamagedFile, hkdf, opened, pbkdf2, seal

VECTORS: dict[str, Any] = json.loads((Path(__file__).parent / "locking.json").read_text(encoding="utf-8"))


def test_pbkdf2() -> None:
    for row in VECTORS["pbkdf2"]["rows"]:
        key = pbkdf2(bytes.fromhex(row["passphrase"]), bytes.fromhex(row["salt"]), row["rounds"], 64)
        assert row["key"] == key.hex()


def test_hkdf() -> None:
    for row in VECTORS["hkdf"]["rows"]:
        ikm, info, salt = (bytes.fromhex(row[name]) for name in ("ikm", "info", "salt"))
        assert row["okm"] == hkdf(ikm, info, len(row["okm"]) // 2, salt).hex()


@pytest.mark.parametrize("row", VECTORS["gcm"]["rows"], ids=lambda row: f"{row['file'][:10]}-{row['lengths']}")
def test_gcm(row: dict[str, Any]) -> None:
    key, iv, aad, sealed = (bytes.fromhex(row[name]) for name in ("key", "iv", "aad", "sealed"))
    if row["text"] is None:
        with pytest.raises(DamagedFile):
            opened(key, iv, sealed, aad)
        return
    assert row["text"] == opened(key, iv, sealed, aad).hex()
    assert row["sealed"] == seal(key, iv, bytes.fromhex(row["text"]), aad).hex()
