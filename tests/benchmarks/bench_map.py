"""The map page against one marker for each post: bytes, time to first paint, time of a pan.

Run ``python tests/benchmarks/bench_map.py``: it plans the sample estate, lays copies of it side by side, writes both
kinds of page, and opens them in the system's Chromium. Ratios are what counts; the seconds are this machine's.

With ``phone`` it opens our page alone as on a phone, the processor slowed to a quarter: how long until the first words
stand, and until the plan is drawn, of one, five and fifteen estates.
"""

import dataclasses
import shutil
import statistics
import sys
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import folium
import geopandas as gpd
import pandas as pd
from playwright.sync_api import sync_playwright
from wirerun import load_config, plan_config
from wirerun.records import Plan
from wirerun.write.html_map import write_map
from wirerun.write.html_map.assets import library_script, library_style

ROOT = Path(__file__).resolve().parents[2]
SLOWER = 4  # a mid-tier phone against a fast desktop: Lighthouse, docs/throttling.md
OPENINGS = 3
APART_DEG = 0.008  # from copy to copy, to the east: the estate is 0.006 wide
IDS = (
    "block_id",
    "row_id",
    "post_id",
    "span_id",
    "section_id",
    "zone_id",
    "from_post",
    "to_post",
    "first_row",
    "last_row",
)
BY_BLOCK = (
    "blocks",
    "rows",
    "posts",
    "spans",
    "clips",
    "sections",
    "wires",
    "lifts",
    "adjusters",
    "zones",
    "zone_materials",
    "programme",
)
# Milliseconds from the request until the first picture stands; then, all posts in the window, the middle one of many
# pans by a third of it, each with its redraw.
DRAWN = """() => new Promise((done) => {
    const look = () => {
        if (document.getElementById("plan-data") && !document.body.dataset.plan) {
            setTimeout(look, 2); // our page unpacks its plan after it has loaded
        } else {
            requestAnimationFrame(() => setTimeout(() => done(performance.now()), 0));
        }
    };
    look();
})"""
WHOLE = "(edges) => { plan_map.fitBounds(edges, { animate: false }); }"
PAN = """() => {
    const times = [];
    for (let i = 0; i < 20; i += 1) {
        const start = performance.now();
        plan_map.panBy([i % 2 ? 300 : -300, 0], { animate: false });
        times.push(performance.now() - start);
    }
    return times.sort((a, b) => a - b)[10];
}"""


def estate(copies: int) -> Plan:
    """Return the sample estate so many times side by side, every id its own."""
    plan = plan_config(load_config(ROOT / "configs" / "encosta_nova.toml"))
    changed: dict[str, Any] = {}
    for name in BY_BLOCK:
        parts = [_copy(getattr(plan, name), number) for number in range(copies)]
        changed[name] = pd.concat(parts, ignore_index=True)
    return dataclasses.replace(plan, **changed)


def _copy(frame: pd.DataFrame, number: int) -> pd.DataFrame:
    out = frame.assign(
        **{
            column: frame[column].str.replace("B0", f"B{number}", regex=False)
            for column in IDS
            if column in frame.columns and number
        }
    )
    for column in ("lon", "start_lon", "end_lon"):
        if column in out.columns:
            out[column] += number * APART_DEG
    if isinstance(out, gpd.GeoDataFrame):
        out = out.set_geometry(out.geometry.translate(number * APART_DEG))
    return out


class _BareMap(folium.Map):
    """The usual map, without what it would fetch from the network; the library stands in the page instead."""

    default_js: list[tuple[str, str]] = []  # noqa: RUF012 - the library's own way to say it
    default_css: list[tuple[str, str]] = []  # noqa: RUF012

    def get_name(self) -> str:
        """Return the name that both pages have for their map."""
        return "plan_map"


def one_marker_each(plan: Plan, path: Path) -> None:
    """Write the usual map of so many posts: a marker of the map library's for each, with its id to read on it."""
    posts = plan.posts
    page = _BareMap([posts["lat"].mean(), posts["lon"].mean()], zoom_start=17, tiles=None, prefer_canvas=True)
    figure = page.get_root()
    assert isinstance(figure, folium.Figure)
    head = figure.header
    head.add_child(folium.Element("{% raw %}<style>" + library_style() + "</style>{% endraw %}"))
    head.add_child(folium.Element("{% raw %}<script>" + library_script() + "</script>{% endraw %}"))
    for lat, lon, post_id in zip(posts["lat"], posts["lon"], posts["post_id"], strict=True):
        folium.CircleMarker([lat, lon], radius=3, tooltip=post_id).add_to(page)
    page.save(str(path))


@contextmanager
def chromium() -> Iterator[Any]:
    """Return the system's browser."""
    program = shutil.which("chromium") or shutil.which("chromium-browser")
    if program is None:
        sys.exit("no chromium on this machine")
    with sync_playwright() as driver:
        browser = driver.chromium.launch(executable_path=program, args=["--no-sandbox", "--disable-gpu"])
        yield browser
        browser.close()


def opened(browser: Any, path: Path, edges: list[list[float]]) -> tuple[float, float]:  # noqa: ANN401 - the driver's
    """Return seconds until the map stands drawn, and milliseconds of a pan."""
    context = browser.new_context(viewport={"width": 1280, "height": 800})
    context.set_offline(True)
    page = context.new_page()
    page.set_default_timeout(300_000)
    page.goto(path.as_uri(), wait_until="load")
    drawn = page.evaluate(DRAWN)
    page.evaluate(WHOLE, edges)
    pan = page.evaluate(PAN)
    context.close()
    return drawn / 1000.0, pan


def phone() -> None:
    """Print how long a phone's user waits, the median of some openings, and the work of it, whatever else runs."""
    print("posts       MB   first words s   plan drawn s   processor s   pan ms")
    with tempfile.TemporaryDirectory() as folder, chromium() as browser:
        for copies in (1, 5, 15):
            plan = estate(copies)
            west, south, east, north = plan.posts.total_bounds.tolist()
            path = Path(folder) / "map.html"
            write_map(plan, path)
            edges = [[south, west], [north, east]]
            found = [_on_a_phone(browser, path, edges) for _ in range(OPENINGS)]
            first, drawn, pan = (statistics.median(one) for one in zip(*found, strict=True))
            work = SLOWER * statistics.median(_work(browser, path) for _ in range(OPENINGS))
            size = path.stat().st_size / 1e6
            print(f"{len(plan.posts):6d}  {size:6.2f}   {first:13.2f}   {drawn:12.2f}   {work:11.2f}   {pan:6.1f}")


def _work(browser: Any, path: Path) -> float:  # noqa: ANN401 - the driver's
    """Return seconds that the page's own thread works until the plan is drawn, at this machine's speed."""
    context = browser.new_context(viewport={"width": 390, "height": 844}, has_touch=True, is_mobile=True)
    page = context.new_page()
    asked = context.new_cdp_session(page)
    asked.send("Performance.enable", {"timeDomain": "threadTicks"})
    page.goto(path.as_uri())
    page.wait_for_selector("body[data-plan]", state="attached")
    metrics = {one["name"]: one["value"] for one in asked.send("Performance.getMetrics")["metrics"]}
    context.close()
    return float(metrics["TaskDuration"])


def _on_a_phone(browser: Any, path: Path, edges: list[list[float]]) -> tuple[float, float, float]:  # noqa: ANN401
    """Return seconds until the first words and until the plan is drawn, and milliseconds of a pan."""
    context = browser.new_context(viewport={"width": 390, "height": 844}, has_touch=True, is_mobile=True)
    context.set_offline(True)
    page = context.new_page()
    page.set_default_timeout(300_000)
    context.new_cdp_session(page).send("Emulation.setCPUThrottlingRate", {"rate": SLOWER})
    page.goto(path.as_uri(), wait_until="load")
    drawn = page.evaluate(DRAWN)
    first = page.evaluate("performance.getEntriesByName('first-contentful-paint')[0].startTime")
    page.evaluate(WHOLE, edges)
    pan = page.evaluate(PAN)
    context.close()
    return first / 1000.0, drawn / 1000.0, pan


def main() -> None:
    """Print the table."""
    print("posts    page          MB   bytes/post  drawn after s   pan ms")
    with tempfile.TemporaryDirectory() as folder, chromium() as browser:
        for copies in (1, 3, 15):
            plan = estate(copies)
            west, south, east, north = plan.posts.total_bounds.tolist()
            edges = [[south, west], [north, east]]
            ours, theirs = Path(folder) / "map.html", Path(folder) / "markers.html"
            write_map(plan, ours)
            one_marker_each(plan, theirs)
            found = {}
            for name, path in (("columns", ours), ("markers", theirs)):
                size = path.stat().st_size
                drawn, pan = opened(browser, path, edges)
                found[name] = (size, drawn, pan)
                each = size / len(plan.posts)
                print(f"{len(plan.posts):6d}   {name:9s} {size / 1e6:7.2f}   {each:10.0f}  {drawn:13.2f}   {pan:6.1f}")
            ratios = [other / one for one, other in zip(found["columns"], found["markers"], strict=True)]
            print(f"         ratio     {ratios[0]:7.1f}   {'':10s}  {ratios[1]:13.1f}   {ratios[2]:6.1f}")


if __name__ == "__main__":
    phone() if "phone" in sys.argv[1:] else main()
