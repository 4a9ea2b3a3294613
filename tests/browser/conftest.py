"""A browser for our pages: the one that the system has; nothing is downloaded."""

import importlib
import os
import re
import shutil
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from functools import partial
from pathlib import Path
from typing import Any

import pytest
from wirerun import load_config, plan_config
from wirerun.records import Plan
from wirerun.write.html_map import write_map

ROOT = Path(__file__).resolve().parents[2]
# What the page says about itself while it runs: broken rules of its own security policy.
WATCH = """
window.broken = [];
document.addEventListener("securitypolicyviolation", (event) => window.broken.push(event.violatedDirective));
"""


@dataclass
class Sheet:
    """An open page, and all that went wrong in it or was asked for by it."""

    page: Any
    requests: list[str] = field(default_factory=list)
    complaints: list[str] = field(default_factory=list)

    def hear(self, line: Any) -> None:  # noqa: ANN401 - the driver's own type
        """Note a console error."""
        if line.type == "error":
            self.complaints.append(line.text)

    def refuse(self, dialog: Any) -> None:  # noqa: ANN401 - the driver's own type
        """Note a dialog, which the page never opens itself, and close it."""
        self.complaints.append(dialog.message)
        dialog.dismiss()

    def trouble(self) -> list[str]:
        """Return console errors, page errors, dialogs and broken policy rules."""
        return self.complaints + list(self.page.evaluate("window.broken"))

    def title(self) -> str:
        """Return the head of the open sheet."""
        return str(self.page.inner_text("#sheet-title"))

    def count(self, name: str) -> int:
        """Return the count that the legend shows for a layer; 0 where it has no such line."""
        found = self.page.query_selector(f'[data-count="{name}"]')
        return int(re.sub(r"\D", "", found.inner_text())) if found else 0

    def show(self, view: str) -> None:
        """Switch to a state of the wires."""
        self.page.check(f"#view-{view}")

    def open_sheet(self) -> bool:
        """Return whether the sheet under the map is open."""
        return bool(self.page.is_visible("#sheet"))

    def find(self, text: str) -> None:
        """Search for an id."""
        self.page.fill("#search-box", text)
        self.page.keyboard.press("Enter")

    def facts(self, place: str) -> dict[str, str]:
        """Return the labels and values of a list, blanks taken out."""
        told = re.sub(r"[^\S\n]", "", self.page.inner_text(place)).split("\n")
        return dict(zip(told[::2], told[1::2], strict=True))

    def lines(self, table: str) -> list[list[str]]:
        """Return the cells of a table of the open card, line by line, each with what stands in small under it."""
        rows = self.page.locator(f"#card table.{table} tbody tr").all_inner_texts()
        return [[cell.strip() for cell in row.split("\t")] for row in rows]

    def click_at(self, lon: float, lat: float, zoom: float | None = None) -> None:
        """Click the map at a place on the ground, after going there if a zoom is given."""
        if zoom is not None:
            # In braces: the map itself, given back, would be written out whole.
            self.page.evaluate("([p, z]) => { plan_map.setView(p, z, {animate: false}); }", [[lat, lon], zoom])
        x, y = self.page.evaluate(
            """(place) => {
                const point = plan_map.latLngToContainerPoint(place);
                const box = plan_map.getContainer().getBoundingClientRect();
                return [point.x + box.left, point.y + box.top];
            }""",
            [lat, lon],
        )
        self.page.mouse.click(x, y)


@pytest.fixture(scope="session")
def browser() -> Iterator[Any]:
    """Return the system's browser, without a window; skip where there is none, but not on the build machine."""
    program = shutil.which("chromium") or shutil.which("chromium-browser")
    if program is None:
        reason = "no chromium on this machine: install it with the system's package manager"
        if os.environ.get("CI"):
            pytest.fail(reason)
        pytest.skip(reason)
    if not os.environ.get("CI"):
        pytest.importorskip("playwright.sync_api", reason="the browser driver comes with the [test] extra")
    driver = importlib.import_module("playwright.sync_api")
    with driver.sync_playwright() as running:
        opened = running.chromium.launch(executable_path=program, args=["--no-sandbox", "--disable-gpu"])
        yield opened
        opened.close()


@pytest.fixture(scope="session")
def estate() -> Plan:
    """Return the plan of the sample estate."""
    return plan_config(load_config(ROOT / "configs" / "encosta_nova.toml"))


@pytest.fixture(scope="session")
def estate_map(estate: Plan, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return the sample estate's map."""
    path = tmp_path_factory.mktemp("map") / "map.html"
    write_map(estate, path)
    return path


@pytest.fixture
def open_page(browser: Any) -> Iterator[Callable[..., Sheet]]:  # noqa: ANN401 - a type of the optional driver
    """Return a function that opens a page with the network off, every request recorded, when it has drawn itself.

    `ready` is what the page has from then on. `route` answers some addresses all the same; `script` runs before any of
    the page's.
    """
    contexts = []

    def opener(
        path: Path,
        fragment: str = "",
        *,
        ready: str = "body[data-page]",
        route: tuple[re.Pattern[str], Callable[[Any], None]] | None = None,
        script: str = "",
        **options: Any,  # noqa: ANN401 - the driver's own options
    ) -> Sheet:
        context = browser.new_context(**{"viewport": {"width": 1400, "height": 900}, **options})
        contexts.append(context)
        context.set_offline(True)
        context.add_init_script(WATCH + script)
        if route is not None:
            context.route(*route)
        sheet = Sheet(context.new_page())
        sheet.page.on("request", lambda request: sheet.requests.append(request.url))
        sheet.page.on("pageerror", lambda error: sheet.complaints.append(str(error)))
        sheet.page.on("console", sheet.hear)
        sheet.page.on("dialog", sheet.refuse)
        sheet.page.goto(path.as_uri() + fragment)
        # The data are unpacked after the page has loaded.
        sheet.page.wait_for_selector(ready, state="attached")
        return sheet

    yield opener
    for context in contexts:
        context.close()


@pytest.fixture(params=[(1440, 900), (390, 844)], ids=["wide", "phone"])
def page(request: pytest.FixtureRequest, page_file: Path, open_page: Callable[..., Sheet]) -> Iterator[Any]:
    """Return the page that the module's `page_file` is, on a wide screen and on a phone; it must not complain."""
    width, height = request.param
    sheet = open_page(page_file, viewport={"width": width, "height": height})
    yield sheet.page
    assert not sheet.trouble()
    assert sheet.requests == [page_file.as_uri()]


@pytest.fixture
def open_map(open_page: Callable[..., Sheet]) -> Callable[..., Sheet]:
    """Return a function that opens a map, as `open_page` does."""
    return partial(open_page, ready="body[data-plan]")
