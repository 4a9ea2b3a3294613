"""A page of ours in one file: its markup, style, script and data, under a policy that lets nothing else run."""

from collections.abc import Sequence
from html import escape
from importlib.resources import files
from typing import Final

from wirerun.write.html_map import assets
from wirerun.write.html_map.columns import Packed, compressed
from wirerun.write.html_map.modules import joined
from wirerun.write.html_map.policy import policy

_POLICY_HERE: Final = "<!-- policy -->"


def document(title: str, name: str, data: Packed, styles: Sequence[str] = (), *, with_map: bool = False) -> str:
    """Return a page as text: the same for the same data.

    Parameters
    ----------
    title : str
        Of the page.
    name : str
        Its markup is ``page/<name>.html``; ``page/<name>.js`` has a function `start`, called once the page stands.
    data : dict
        What the script finds, gzipped, in the element `page-data`.
    styles : sequence of str
        Style sheets of ``page`` beside ``page.css`` and the map's ``base.css``.
    with_map : bool
        Whether the map library comes with it.
    """
    style = "\n".join(own_file(sheet) for sheet in ("base.css", "page.css", *styles))
    script = f"{joined(f'{name}.js', own_file, 'Page')}\nPage.start();"
    library = ""
    if with_map:
        licence = escape(assets.library_licence(), quote=False).replace("--", "- -")
        library = (
            f"<!-- The map library below is used under this licence:\n{licence}-->\n"
            f"<style>\n{assets.library_style()}\n</style>\n<script>\n{assets.library_script()}\n</script>\n"
        )
    page = (
        f'<!DOCTYPE html>\n<html lang="en">\n<head>\n<meta charset="utf-8">\n{_POLICY_HERE}\n'
        '<meta name="referrer" content="no-referrer">\n'
        '<meta name="viewport" content="width=device-width, initial-scale=1">\n'
        f"<title>{escape(title)}</title>\n{library}<style>\n{style}\n</style>\n</head>\n<body>\n"
        f"{own_file(f'{name}.html')}\n"
        f'<script type="text/plain" id="page-data">{compressed(data)}</script>\n'
        f"<script>\n{script}\n</script>\n</body>\n</html>\n"
    )
    return page.replace(_POLICY_HERE, policy(page), 1)


def own_file(name: str) -> str:
    """Return the text of a file of ``page``, or of the map's page where there is none of this name."""
    own = files("wirerun.write.pages") / "page" / name
    return own.read_text("utf-8") if own.is_file() else assets.own_file(name)
