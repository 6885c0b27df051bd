"""Makes wear.json: diameters of worn chain over some years, the line through them, its 95 % band, and when it meets a limit.

    python3 wear.py > wear.json

The line and its band are statsmodels' ordinary least squares (OLS, get_prediction), and where the band meets the limit is found
by scipy's brentq on them, so that none of the formulas of the program under test is used. Seeds are fixed: the same file comes
out. Made with statsmodels 0.15.0 and scipy 1.17.1.
"""

import json

import numpy as np
import statsmodels.api as sm
from scipy.optimize import brentq

YEAR_MS = 365.25 * 86_400_000
HORIZON = 60.0


def case(rng, start_ms, count, years, new_mm, wear, scatter):
    days = np.sort(rng.choice(np.arange(1, int(years * 365)), count - 2, replace=False))
    at_ms = [int(start_ms + day * 86_400_000) for day in [0, *days, int(years * 365)]]
    t = (np.array(at_ms) - at_ms[0]) / YEAR_MS
    d = np.round(new_mm - wear * t + rng.normal(0, scatter, count), 2)
    limit = round(0.88 * new_mm, 2)
    fit = sm.OLS(d, sm.add_constant(t)).fit()

    def band(years):
        seen = fit.get_prediction(np.array([[1.0, years]])).summary_frame(alpha=0.05)
        return float(seen["mean"].iloc[0]), float(seen["mean_ci_lower"].iloc[0]), float(seen["mean_ci_upper"].iloc[0])

    a, b = fit.params
    expected = (limit - a) / b
    ends = []
    for side in (1, 2):
        off = lambda years: band(years)[side] - limit
        low, high = float(t.mean()), float(t.max() + HORIZON)
        ends.append(float(at_ms[0] + brentq(off, low, high, xtol=1e-10) * YEAR_MS) if off(low) * off(high) < 0 else None)
    looks = [at_ms[0] + int(years * YEAR_MS) for years in (0.0, 2.5, 5.0, 8.0)]
    return {
        "measured": [[at, float(mm)] for at, mm in zip(at_ms, d)],
        "limit_mm": limit,
        "mm_per_year": float(-b),
        "expected_ms": float(at_ms[0] + expected * YEAR_MS),
        "earliest_ms": ends[0],
        "latest_ms": ends[1],
        "band": [[at, *(lambda s: (s[0], s[2] - s[0]))(band((at - at_ms[0]) / YEAR_MS))] for at in looks],
    }


HEADER = {
    "title": "Diameters of worn chain over some years, the line through them with its 95 % band, and when it meets the limit",
    "source": {
        "primary": "wear.py: statsmodels OLS and get_prediction, scipy brentq",
        "versions": {
            "statsmodels": "0.15.0",
            "scipy": "1.17.1"
        }
    },
    "units": "ms UTC, mm, mm per year",
    "tolerance": {
        "mm_per_year": "1e-9",
        "expected_ms": "2 ms",
        "earliest_ms": "0.002 years",
        "latest_ms": "0.005 years, and as much for each year between earliest and latest",
        "band": "1e-9 mm for the line, as earliest_ms for its half width (a table of Student's t with three decimals)"
    },
    "licence": "the numbers were computed for this project and stand under its licence"
}


def main():
    rng = np.random.default_rng(20261127)
    cases = []
    while len(cases) < 16:
        new_mm = float(rng.choice([17.5, 22.0, 28.0, 34.0, 46.0]))
        one = case(
            rng,
            1_600_000_000_000 + int(rng.integers(0, 200)) * 86_400_000,
            int(rng.integers(4, 9)),
            float(rng.uniform(4, 8)),
            new_mm,
            float(rng.uniform(0.006, 0.02)) * new_mm,
            float(rng.uniform(0.02, 0.25)),
        )
        # Where the line does not fall, or is more than sixty years from the limit, the program says so: not what is tried here.
        if one["earliest_ms"] is not None and one["mm_per_year"] > 0.05:
            cases.append(one)
    print(json.dumps({"header": HEADER, "cases": cases}, indent=1))


main()
