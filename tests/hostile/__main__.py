"""Run hostile cases by hand: `python -m tests.hostile --count 2000 --seed 7`; says which did what they may not."""

import argparse
import sys
from collections import Counter

from tests.hostile.every import WAYS, case_of
from tests.hostile.watch import watch


def _main() -> int:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--count", type=int, default=len(WAYS) * 10)
    parser.add_argument("--first", type=int, default=0)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--only", default="", help="part of the names of the ways to run")
    parser.add_argument("--all", action="store_true", help="say every case, the sentences too")
    asked = parser.parse_args()
    every = (case_of(number, asked.seed) for number in range(asked.first, asked.first + asked.count))
    cases = [case for case in every if asked.only in case]
    ends: Counter[str] = Counter()
    bad = 0
    for seen in watch(cases):
        bad += bool(seen.wrong)
        ends.update(f"{one['words'][0]} {one['code']}" for one in seen.answers)
        if seen.wrong or asked.all:
            print(seen.told, flush=True)
        if asked.all:
            for one in seen.answers:
                print(one["stderr"][:1500], flush=True)
    print(f"{len(cases)} cases, {bad} of them wrong; {dict(sorted(ends.items()))}")
    return bool(bad)


if __name__ == "__main__":
    sys.exit(_main())
