"""Make the old trellis of the lower block: its outline, and its posts as a rover found them forty years on.

Invented, as the rest: from `block.geojson` and `posts.csv` beside it, by a seeded draw, so that a second run gives the
same bytes.
"""

import csv
import json
from pathlib import Path

import numpy as np

HERE = Path(__file__).parent
LOWER = "B02"
BROKEN, SHORT, LEANING = 0.004, 0.002, 0.002
OUT_M, SHORT_M, LEAN_M = 1.9, 1.3, 0.22
METRES_PER_DEGREE = 111_320.0


def main() -> None:
    """Write both files beside this one."""
    blocks = json.loads((HERE / "block.geojson").read_text(encoding="utf-8"))
    blocks["features"] = [one for one in blocks["features"] if one["properties"]["block"] == LOWER]
    (HERE / "lower_block.geojson").write_text(json.dumps(blocks, indent=1) + "\n", encoding="utf-8", newline="\n")
    rng = np.random.default_rng(41)
    with (HERE / "posts.csv").open(encoding="utf-8", newline="") as stream:
        posts = list(csv.DictReader(stream))
    drawn = rng.random((len(posts), 3))
    out = OUT_M + rng.normal(0.0, 0.02, len(posts))
    with (HERE / "old_posts.csv").open("w", encoding="utf-8", newline="") as stream:
        writer = csv.writer(stream, lineterminator="\n")
        writer.writerow(["id", "lon", "lat", "height", "height_out_m", "state"])
        for post, (broken, short, leans), high in zip(posts, drawn, out, strict=True):
            lat = float(post["lat"]) + (LEAN_M / METRES_PER_DEGREE if leans < LEANING else 0.0)
            measured = SHORT_M if short < SHORT else min(high, 1.94)
            state = "broken" if broken < BROKEN else "stands"
            writer.writerow([post["id"], post["lon"], f"{lat:.9f}", post["height"], f"{measured:.2f}", state])


if __name__ == "__main__":
    main()
