"""The way back from packed columns, written a second time so that the packing is not checked against itself."""

from collections.abc import Callable
from typing import Any

import pytest

Column = list[float | str | None]
SIGNS = "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789-_"


def _whole(text: str) -> list[int | None]:
    """Return whole numbers from text: low five bits first, 0 for none, then 0, -1, 1, -2, ..."""
    out: list[int | None] = []
    bits = ""
    for sign in text:
        place = SIGNS.index(sign)
        bits = f"{place % 32:05b}" + bits
        if place < 32:
            code, bits = int(bits, 2), ""
            turned = [code // 2, -(code // 2)][code % 2 == 0]
            out.append(None if code == 0 else turned)
    return out


def _read(packed: dict[str, Any], before: Column | None = None) -> Column:
    """Return a packed column as a person would read it; `before` is the column that it may be told by."""
    values = _whole(packed["text"])
    if "runs" in packed:
        lengths = [length or 0 for length in _whole(packed["runs"])]
        values = [value for value, length in zip(values, lengths, strict=True) for _ in range(length)]
    if "words" in packed:
        return [None if value is None else packed["words"][value] for value in values]
    total, out = 0, list[float | str | None]()
    for value in values:
        total = (value or 0) + (total if packed.get("steps") else 0)
        out.append(None if value is None else total / 10 ** packed.get("decimals", 0))
    if packed.get("like"):
        assert before is not None
        pairs = zip(out, before, strict=True)
        return [None if one is None else float(one) + float(base or 0.0) for one, base in pairs]
    return out


@pytest.fixture(scope="session")
def read() -> Callable[[dict[str, Any]], Column]:
    """Return the function that reads a packed column."""
    return _read
