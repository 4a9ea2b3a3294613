"""What wrong clips cost by when a two-way clip is planned: grounds whose truth is known, a survey's noise added.

Run it as a script. For each ground and noise, per 1000 posts at the demo's prices, all that the choice of clips costs
beyond the cheapest choice by who knows the ground and the crew's hand: needless two-way clips, changes of kind, looks
on site, other clips where a look finds the need, coming back and other clips where none does. Of the plain formula,
which takes every bend seen as likely beforehand, from P = 0.5 on; of the posterior from what is likely on, with looks;
and by price. Clips are set to a centimetre, some draws of it; sections are joined as a plan joins them. Grounds, noises
and truth are those of `clip_need_truth`, and so is `--held-back`.
"""

import argparse

import numpy as np
from clip_need_truth import (  # type: ignore[import-not-found]
    HOLD_N,
    RANGE_M,
    SMOOTHING_M,
    TENSION_N,
    WIRE,
    Scene,
    demo_prices,
    errors_of,
    scenes,
)
from known_grounds import add_arguments, seed_of, truths_of  # type: ignore[import-not-found]
from numpy.typing import NDArray
from scipy.special import ndtr
from wirerun.mechanics.load_posterior import load_posterior
from wirerun.mechanics.undulation import load_sensitivity, load_sigma, need_probability, taut_clip_load
from wirerun.rules.clip_prices import ClipPrices
from wirerun.rules.sections import runs, within

Array = NDArray[np.float64]
Bools = NDArray[np.bool_]
MARKING_M, DRAWS, JOIN = 0.01, 10, 1


def said(scene: Scene, sigma_m: float) -> tuple[Array, Array]:
    """Probability of the need, the crew's hand in it: by the plain formula, and by the posterior; NaN at row ends."""
    feet = scene.feet
    known = load_posterior(scene.xy, feet, errors_of(scene, sigma_m))
    load = taut_clip_load(feet, WIRE, TENSION_N)
    marked = MARKING_M * np.sqrt((load_sensitivity(feet, 1.0) ** 2).sum(axis=1))
    alone = np.hypot(load_sigma(feet, TENSION_N, sigma_m, RANGE_M, SMOOTHING_M), TENSION_N * marked)
    over = known.error - (HOLD_N + load)[:, None] / TENSION_N
    posterior = (known.weight * ndtr(over / np.hypot(known.left, marked[:, None]))).sum(axis=1)
    return need_probability(load, alone, HOLD_N), posterior


def planned(probability: Array, least: float, row: NDArray[np.int64]) -> Bools:
    """Posts with two-way clips, sections joined."""
    return np.asarray(within(*runs(np.nan_to_num(probability) >= least, row, JOIN), len(row)))


def cheapest(true: Bools, row: NDArray[np.int64], prices: ClipPrices) -> Bools:
    """Posts with two-way clips by who knows which need them: gaps are filled where that costs less."""
    most = int(2.0 * prices.change_kind / prices.two_way)
    return np.asarray(within(*runs(true, row, most), len(row)))


def cost(two_way: Bools, look: Bools, true: Bools, prices: ClipPrices) -> Array:
    """Cost, needless and missed posts, and looks."""
    missed = true & ~two_way
    changes = np.count_nonzero(np.diff(two_way.astype(np.int8)))
    spent = prices.two_way * two_way.sum() + prices.change_kind * changes + prices.look * look.sum()
    spent += prices.change_clips * missed.sum() + prices.come_back * (missed & ~look).sum()
    return np.array([spent, (two_way & ~true).sum(), (missed & ~look).sum(), look.sum()])


def compare(
    truth: Array, cell_m: float, sigma_m: float, draws: tuple[int, int], prices: ClipPrices
) -> dict[str, Array]:
    """Of each way, per 1000 posts: cost beyond the cheapest, needless, missed, looks."""
    total: dict[str, Array] = {}
    fields, seed = draws
    for scene in scenes(truth, sigma_m, fields, seed, cell_m):
        feet, row = scene.feet, scene.feet.rows.ordinal
        plain, known = said(scene, sigma_m)
        none = np.zeros(len(row), dtype=np.bool_)
        likely = planned(known, 0.5, row)
        worth = ~likely & (known * prices.come_back > prices.look)
        ways = {
            "plain": (planned(plain, 0.5, row), none),
            "likely, looks": (likely, worth),
            "by price": (planned(known, prices.two_way_from, row), none),
        }
        rng = np.random.default_rng(3)
        for _ in range(DRAWS):
            set_at = scene.true_m + MARKING_M * rng.standard_normal(len(row))
            true = taut_clip_load(feet.at_heights(set_at), WIRE, TENSION_N) < -HOLD_N
            least = cost(cheapest(true, row, prices), none, true, prices)[0]
            for name, (two_way, look) in ways.items():
                found = cost(two_way, look, true, prices) - np.array([least, 0.0, 0.0, 0.0])
                total[name] = total.get(name, 0.0) + 1000.0 * found / (DRAWS * fields * len(feet.rows.inner))
    return total


def main() -> None:
    parser = argparse.ArgumentParser()
    add_arguments(parser)
    parser.add_argument("--sigma", type=float, nargs="*", default=[0.01, 0.03, 0.06])
    parser.add_argument("--fields", type=int, default=2)
    asked = parser.parse_args()
    prices = demo_prices()
    print(f"prices of a post: {prices}, planned from {prices.two_way_from:.3f}")
    print("per 1000 posts: cost beyond the cheapest (needless, missed and unseen, looks)")
    for sigma in asked.sigma:
        print(f"\nsigma {100 * sigma:g} cm")
        made = {
            name: compare(truth, cell, sigma, (asked.fields, seed_of(asked)), prices)
            for name, (truth, cell) in truths_of(asked).items()
        }
        made["all"] = {way: np.mean([one[way] for one in made.values()], axis=0) for way in next(iter(made.values()))}
        for name, ways in made.items():
            parts = [f"{way} {one[0]:6.1f} ({', '.join(f'{n:.0f}' for n in one[1:])})" for way, one in ways.items()]
            share = ways["by price"][0] / ways["plain"][0] if ways["plain"][0] else np.nan
            print(f"{name:10}{' | '.join(parts)} | by price over plain {share:.2f}", flush=True)


if __name__ == "__main__":
    main()
