"""What the map page may run and fetch: its own scripts and styles by their SHA-256, and the hosts that were named."""

import base64
import hashlib
import re
from collections.abc import Iterable
from typing import Final
from urllib.parse import urlsplit

_INSIDE: Final = re.compile(r"<(?P<tag>script|style)(?P<attributes>[^>]*)>(?P<text>.*?)</(?P=tag)>", re.DOTALL)


def policy(page: str, *, code: Iterable[str] = (), pictures: Iterable[str] = (), guests: bool = False) -> str:
    """Return the Content-Security-Policy of a page, as the element that stands in its head.

    Parameters
    ----------
    page : str
        The page; each script and style in it may run, and no other.
    code : iterable of str
        Addresses of scripts and style sheets; these, and pictures and fonts of theirs, may come from their hosts.
    pictures : iterable of str
        Addresses of pictures, which may come from their hosts.
    guests : bool
        Whether somebody else's markup is in the page, which may carry styles of its own.
    """
    digests: dict[str, list[str]] = {"script": [], "style": []}
    for one in _INSIDE.finditer(page):
        if not re.search(r'src=|type="text/plain"', one["attributes"]):
            digests[one["tag"]].append(_digest(one["text"]))
    hosts = _hosts(code)
    rules = {
        "default-src": ["'none'"],
        "script-src": [*digests["script"], *hosts],
        "style-src": [*digests["style"], *hosts],
        "style-src-attr": ["'unsafe-inline'"] if guests else [],
        "font-src": hosts,
        "img-src": ["data:", "blob:", *_hosts([*code, *pictures])],
        "base-uri": ["'none'"],
        "form-action": ["'none'"],
    }
    words = "; ".join(f"{name} {' '.join(sources)}" for name, sources in rules.items() if sources)
    return f'<meta http-equiv="Content-Security-Policy" content="{words}">'


def _digest(text: str) -> str:
    """Return a script's or style's name in the policy."""
    return f"'sha256-{base64.b64encode(hashlib.sha256(text.encode()).digest()).decode()}'"


def _hosts(addresses: Iterable[str]) -> list[str]:
    """Return the hosts of addresses, each once: ``https://{s}.a.org/{z}/{x}`` is at ``https://*.a.org``."""
    parts = [urlsplit(re.sub(r"^(\w+://)[^./]*\{\w\}[^./]*\.", r"\1*.", address)) for address in addresses]
    hosts = [f"{part.scheme}://{part.netloc}" for part in parts if part.scheme in {"http", "https"}]
    return list(dict.fromkeys(host for host in hosts if re.fullmatch(r"\w+://[\w.*:-]+", host)))
