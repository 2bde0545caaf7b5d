"""Hail, counts of hits, patterns of hits and gutters, checked against scipy, statsmodels and fluids.

The environment variable CHALKWALK_ASK names the program of `core/examples/ask`.
"""

import itertools
import json
import math
import os
import subprocess

import fluids
import numpy as np
import pytest
from scipy import optimize, stats
from statsmodels.stats.rates import test_poisson_2indep as poisson_2indep

MPH = 0.44704  # m/s, exact
FOOT_POUND = 1.3558179483314004  # J, exact: 0.3048 x 0.45359237 x 9.80665


def ask(questions):
    """One process for all questions; answers in their order."""
    lines = "".join(json.dumps(question) + "\n" for question in questions)
    done = subprocess.run([os.environ["CHALKWALK_ASK"]], input=lines, capture_output=True,
                          text=True, check=True)
    answers = [json.loads(line) for line in done.stdout.splitlines()]
    assert len(answers) == len(questions)
    for question, answer in zip(questions, answers):
        assert "ok" in answer, (question, answer)
    return [answer["ok"] for answer in answers]


def worst(record_property, name, ours, theirs, bound, relative=True):
    """The worst deviation, recorded and held to a bound."""
    ours, theirs = np.asarray(ours, float), np.asarray(theirs, float)
    off = np.abs(ours - theirs)
    if relative:
        off = off / np.maximum(np.abs(theirs), 1e-300)
    off = np.where(ours == theirs, 0, off)
    record_property(name, float(off.max()))
    print(f"{name}: worst deviation {off.max():.3g} over {off.size}")
    assert off.max() <= bound, (name, int(off.argmax()), ours[off.argmax()], theirs[off.argmax()])


COUNTS = [*range(0, 61), 75, 100, 150, 333, 1000, 2500, 10000, 25000, 49999, 50000]


def test_intervals_are_those_of_scipy(record_property):
    """F. Garwood, Biometrika 28, 1936: gamma quantiles of scipy."""
    levels = [0.5, 0.8, 0.9, 0.95, 0.99, 0.9999]
    grid = list(itertools.product(COUNTS, levels))
    found = ask([{"about": "hits_interval", "count": n, "level": level} for n, level in grid])
    low = [stats.gamma.ppf((1 - level) / 2, n) if n else 0.0 for n, level in grid]
    high = [stats.gamma.ppf((1 + level) / 2, n + 1) for n, level in grid]
    worst(record_property, "Garwood low", [row["low"] for row in found], low, 1e-9)
    worst(record_property, "Garwood high", [row["high"] for row in found], high, 1e-9)


def pairs():
    dice = np.random.default_rng(1)
    for a, b in itertools.product([0, 1, 2, 3, 5, 8, 12, 20, 47], repeat=2):
        yield a, 100.0, b, 100.0
    for _ in range(300):
        top = 10 ** dice.uniform(0.5, 4.5)
        a, b = (int(dice.integers(0, top)) for _ in range(2))
        yield a, float(dice.uniform(5, 400)), b, float(dice.uniform(5, 400))
    yield 50000, 100.0, 49000, 100.0
    yield 50000, 100.0, 50000, 100.0


def test_two_counts_compare_as_in_scipy_and_statsmodels(record_property):
    """J. Przyborowski and H. Wilenski, Biometrika 31, 1940 (p); C. Clopper and E. Pearson,
    Biometrika 26, 1934 (interval)."""
    grid = list(pairs())
    found = ask([{"about": "hits_two", "first": [a, x], "second": [b, y], "level": 0.95}
                 for a, x, b, y in grid])
    ours, theirs, other, low, high = [], [], [], [], []
    for row, (a, x, b, y) in zip(found, grid):
        if a + b == 0:
            assert row["p"] == 1 and row["interval"] == {"low": 0, "high": None}
            continue
        test = stats.binomtest(a, a + b, x / (x + y))
        ours.append(row["p"])
        theirs.append(test.pvalue)
        other.append(poisson_2indep(a, x, b, y, method="exact-cond").pvalue)
        share = test.proportion_ci(0.95, method="exact")
        scale = y / x
        if a:
            low.append((row["interval"]["low"], share.low / (1 - share.low) * scale))
        if b:
            high.append((row["interval"]["high"], share.high / (1 - share.high) * scale))
        else:
            assert row["interval"]["high"] is None and row["ratio"] is None
    worst(record_property, "two counts, p by scipy", ours, theirs, 1e-7, relative=False)
    worst(record_property, "two counts, p by statsmodels", ours, other, 1e-7, relative=False)
    worst(record_property, "two counts, ratio low", *zip(*low), 1e-7)
    worst(record_property, "two counts, ratio high", *zip(*high), 1e-7)


def outcomes(hits, places):
    if places == 1:
        yield (hits,)
        return
    for first in range(hits + 1):
        for rest in outcomes(hits - first, places - 1):
            yield (first, *rest)


def test_many_counts_compare_as_in_scipy(record_property):
    """K. Pearson 1900 (chi-square); the exact test adds up scipy's multinomial over all
    outcomes."""
    dice = np.random.default_rng(2)
    grid = [[(12, 1.0), (9, 1.0), (3, 1.0), (2, 1.0)], [(8, 1.0), (8, 1.0), (7, 1.0), (9, 1.0)],
            [(10, 1.0), (2, 1.0), (1, 1.0), (0, 1.0)], [(0, 1.0), (1, 2.0)]]
    for _ in range(120):
        places = int(dice.integers(2, 7))
        rate = dice.uniform(0.5, 30 / places)
        grid.append([(int(dice.poisson(rate)), float(dice.uniform(50, 150)))
                     for _ in range(places)])
    for _ in range(40):
        grid.append([(int(dice.poisson(2000)), float(dice.uniform(50, 150))) for _ in range(6)])
    grid = [row for row in grid if sum(hits for hits, _ in row)]
    found = ask([{"about": "hits_many", "counts": row} for row in grid])
    ours, theirs, exact, exactly = [], [], [], []
    for row, counts in zip(found, grid):
        hits = np.array([hits for hits, _ in counts])
        shares = np.array([area for _, area in counts])
        shares = shares / shares.sum()
        ours.append(row["chi_square_p"])
        theirs.append(stats.chisquare(hits, hits.sum() * shares).pvalue)
        ways = math.comb(int(hits.sum()) + len(hits) - 1, len(hits) - 1)
        assert (row["method"] == "exact_multinomial") == (ways <= 200_000)
        if ways <= 30_000:
            every = np.array(list(outcomes(int(hits.sum()), len(hits))))
            chance = stats.multinomial.pmf(every, hits.sum(), shares)
            seen = stats.multinomial.pmf(hits, hits.sum(), shares)
            exact.append(row["exact_p"])
            exactly.append(min(1, chance[chance <= seen * (1 + 1e-9)].sum()))
    assert len(exact) > 60
    worst(record_property, "chi-square p", ours, theirs, 1e-9, relative=False)
    worst(record_property, "exact multinomial p", exact, exactly, 1e-9, relative=False)


STRAY = 0.02  # the least that the model expects of a lee side, as in the program


def means(surfaces, wind):
    """Hits expected, with the wind as a vector (ratio times east and north); rates profiled."""
    bearing, tilt, area = (np.array([row[i] for row in surfaces], float) for i in range(3))
    hits = np.array([row[3] for row in surfaces])
    covering = np.array([row[4] for row in surfaces])
    bearing, tilt = np.radians(bearing), np.radians(tilt)
    level = np.cos(tilt) + np.sin(tilt) * (wind[0] * np.sin(bearing) + wind[1] * np.cos(bearing))
    share = area * np.maximum(level, STRAY)
    expected = np.zeros(len(share))
    for name in set(covering):
        of = covering == name
        expected[of] = hits[of].sum() * share[of] / share[of].sum()
    return hits, expected


def log_likelihood(surfaces, wind):
    hits, expected = means(surfaces, wind)
    return stats.poisson.logpmf(hits, np.maximum(expected, 1e-300)).sum()


def best(surfaces, at=None):
    """The best log-likelihood over the wind, by scipy from many starts; `at` fixes a direction."""
    def turned(x):
        if at is None:
            return x
        return x[0] * math.sin(math.radians(at)), x[0] * math.cos(math.radians(at))

    def loss(x):
        wind = turned(x)
        return 1e9 if math.hypot(*wind) > 4 or (at is not None and x[0] < 0) else \
            -log_likelihood(surfaces, wind)

    top = None
    if at is None:
        starts = [(r * math.sin(t), r * math.cos(t)) for r in (0.1, 0.5, 1.2, 2.5, 3.9)
                  for t in np.radians(range(0, 360, 30))]
    else:
        starts = [(r,) for r in np.linspace(0.02, 3.98, 23)]
    for start in starts:
        done = optimize.minimize(loss, start, method="Nelder-Mead",
                                 options={"xatol": 1e-7, "fatol": 1e-9})
        if top is None or done.fun < top[0]:
            top = done.fun, turned(done.x)
    return -top[0], top[1]


def storms(count):
    dice = np.random.default_rng(3)
    for _ in range(count):
        turn = dice.uniform(0, 360)
        surfaces = [[(turn + 90 * side) % 360, math.degrees(math.atan(rise / 12)), 100.0, 0, 0]
                    for side, rise in enumerate(dice.integers(3, 13, 4))]
        surfaces += [[(turn + 90 * side) % 360, 90.0, float(dice.integers(2, 9)), 0, 1]
                     for side in range(4)]
        wind_from, ratio = math.radians(dice.uniform(0, 360)), dice.uniform(0.1, 1.5)
        wind = ratio * math.sin(wind_from), ratio * math.cos(wind_from)
        rates = dice.uniform(5, 40), dice.uniform(1, 6)
        for row in surfaces:
            bearing, tilt = math.radians(row[0]), math.radians(row[1])
            level = math.cos(tilt) + math.sin(tilt) * (
                wind[0] * math.sin(bearing) + wind[1] * math.cos(bearing))
            rate = rates[row[4]] * row[2] / (100 if row[4] == 0 else 1)
            row[3] = int(dice.poisson(rate * max(level, STRAY)))
        if sum(row[3] for row in surfaces) >= 10:
            yield surfaces


def test_patterns_are_fitted_as_by_scipy(record_property):
    """The same likelihood in the wind's two components, maximised by Nelder and Mead's method
    (Computer Journal 7, 1965) in scipy; interval bounds are where its profile has dropped by half
    the chi-square quantile (S. Wilks, Annals of Mathematical Statistics 9, 1938)."""
    grid = list(storms(25))
    found = ask([{"about": "hits_pattern", "surfaces": rows, "level": 0.95} for rows in grid])
    gap, apart, ratios, bounds, fits = [], [], [], [], []
    drop = stats.chi2.ppf(0.95, 1) / 2
    for answer, rows in zip(found, grid):
        fit = answer["fit"]
        top, wind = best(rows)
        ours = (fit["ratio"] * math.sin(math.radians(fit["from"])),
                fit["ratio"] * math.cos(math.radians(fit["from"])))
        # Positive where scipy climbed higher.
        gap.append(max(0.0, top - log_likelihood(rows, ours)))
        if math.hypot(*wind) > 0.1 and log_likelihood(rows, ours) - top < 1e-6:
            theirs = math.degrees(math.atan2(*wind)) % 360
            apart.append(abs((fit["from"] - theirs + 180) % 360 - 180))
            ratios.append(abs(fit["ratio"] - math.hypot(*wind)))
        hits, expected = means(rows, ours)
        worst_row = np.abs(expected - [row["expected"] for row in answer["surfaces"]]).max()
        assert worst_row < 1e-6
        deviance = 2 * (np.where(hits > 0, hits * np.log(np.maximum(hits, 1) / expected), 0)
                        - (hits - expected)).sum()
        if fit["degrees"]:
            fits.append((fit["p_fit"], stats.chi2.sf(deviance, fit["degrees"])))
        if fit["directions"] != "any":
            for arc in fit["directions"]["arcs"]:
                for end in arc["from"], arc["to"]:
                    bounds.append(abs(best(rows, at=end)[0] - (top - drop)))
    worst(record_property, "pattern, log-likelihood missed", gap, np.zeros(len(gap)), 1e-5, False)
    worst(record_property, "pattern, direction (degrees)", apart, np.zeros(len(apart)), 0.05, False)
    worst(record_property, "pattern, ratio", ratios, np.zeros(len(ratios)), 1e-3, False)
    worst(record_property, "pattern, log-likelihood at the bounds", bounds,
          np.zeros(len(bounds)), 2e-3, False)
    worst(record_property, "pattern, p of the fit", *zip(*fits), 1e-6, False)
    assert len(apart) > 10 and len(bounds) > 20


def test_hail_falls_and_drifts(record_property):
    """T. Marshall's table of ice balls; A. Heymsfield and others 2018; UL 2218; a body in free
    fall with scipy-free arithmetic beside each."""
    table = {1.00: (49.8, 1.43), 1.25: (55.9, 3.53), 1.50: (61.4, 7.35), 1.75: (66.2, 13.56),
             2.00: (71.6, 23.71)}
    ice = ask([{"about": "hail_fall", "inches": d, "model": "ice"} for d in table])
    worst(record_property, "ice ball, mph", [row["mph"] for row in ice],
          [mph for mph, _ in table.values()], 1e-3)
    worst(record_property, "ice ball, ft-lbf", [row["foot_pounds"] for row in ice],
          [energy for _, energy in table.values()], 5e-3)
    sizes = np.round(np.arange(0.25, 4.01, 0.25), 2).tolist()
    natural = ask([{"about": "hail_fall", "inches": d, "model": "natural"} for d in sizes])
    worst(record_property, "natural hail, mph", [row["mph"] for row in natural],
          [6.1 * (2.54 * d) ** 0.72 / MPH for d in sizes], 1e-12)
    for row in ice + natural:
        energy = row["grams"] / 2000 * row["metres_a_second"] ** 2
        assert row["joules"] == pytest.approx(energy, rel=1e-12)
        assert row["foot_pounds"] == pytest.approx(energy / FOOT_POUND, rel=1e-6)
    balls = [(1.25, 12), (1.5, 15), (1.75, 17), (2.0, 20)]
    theirs = [7850 * math.pi / 6 * (d * 0.0254) ** 3 * 9.80665 * h * 0.3048 / FOOT_POUND
              for d, h in balls]
    worst(record_property, "UL 2218, ft-lbf", ask([{"about": "hail_impact"}])[0], theirs, 1e-6)
    drifts = ask([{"about": "hail_drift", "wind": w, "fall": v}
                  for w, v in [(30, 49.8), (60, 71.6)]])
    assert [round(row["degrees"], 2) for row in drifts] == [31.07, 39.96]
    assert [round(row["energy_factor"], 4) for row in drifts] == [1.3629, 1.7022]


def test_the_drag_of_the_ice_ball_is_that_of_a_sphere(record_property):
    """fluids' terminal velocity of a smooth sphere with the drag of D. Clift, J. Grace and M.
    Weber 1978, in air of ISO 2533 at sea level: a model of its own, so only roughly the same."""
    sizes = [0.5, 0.75, 1.0, 1.25, 1.5, 1.75, 2.0]
    ours = ask([{"about": "hail_fall", "inches": d, "model": "ice"} for d in sizes])
    theirs = [fluids.drag.v_terminal(D=d * 0.0254, rhop=915, rho=1.225, mu=1.789e-5) / MPH
              for d in sizes]
    worst(record_property, "ice ball against a sphere's drag", [row["mph"] for row in ours],
          theirs, 0.12)


def test_surfaces_meet_the_hail_as_vectors_do(record_property):
    """The scalar product of the path of the hail and the outward normal, with numpy."""
    dice = np.random.default_rng(4)
    rows, theirs = [], []
    for _ in range(400):
        bearing, wind_from = dice.uniform(0, 360, 2)
        rise = None if dice.random() < 0.3 else float(dice.uniform(0, 24))
        ratio = float(dice.uniform(0, 3))
        rows.append({"about": "hail_exposure", "bearing": bearing, "rise": rise,
                     "from": wind_from, "ratio": ratio})
        b, w = np.radians([bearing, wind_from])
        out = np.array([math.sin(b), math.cos(b), 0.0]) if rise is None else \
            np.array([rise * math.sin(b), rise * math.cos(b), 12.0]) / math.hypot(rise, 12)
        # Hail moves away from where the wind comes from, and down by one.
        path = np.array([-ratio * math.sin(w), -ratio * math.cos(w), -1.0])
        theirs.append(max(0.0, -path @ out))
    worst(record_property, "hits against level ground", ask(rows), theirs, 1e-12, relative=False)


def test_manning_is_that_of_fluids(record_property):
    """R. Manning's formula (1891) as `fluids.V_Manning` has it, in SI units."""
    dice = np.random.default_rng(5)
    rows, theirs = [], []
    for _ in range(200):
        fall, n = float(dice.uniform(0.02, 1)), float(dice.uniform(0.009, 0.02))
        if dice.random() < 0.5:
            d = float(dice.uniform(3, 10))
            rows.append({"diameter": d})
            area, wetted = math.pi * d * d / 8, math.pi * d / 2
        else:
            top, bottom, depth = (float(x) for x in dice.uniform(2, 8, 3))
            rows.append({"top": top, "bottom": bottom, "depth": depth})
            area = (top + bottom) / 2 * depth
            wetted = bottom + 2 * math.hypot(depth, (top - bottom) / 2)
        rows[-1] |= {"about": "gutter_manning", "fall": fall, "roughness": n}
        speed = fluids.V_Manning(Rh=area / wetted * 0.0254, S=fall / 12, n=n)
        theirs.append(speed * area * 0.0254**2 / 3.785411784e-3 * 60)
    found = ask(rows)
    worst(record_property, "Manning, gpm", [row["gallons_a_minute"] for row in found], theirs, 1e-9)
    demand = ask([{"about": "gutter_demand", "square_feet": 1000, "rise": 6, "rain": 6.8}])[0]
    # Home-improvement reference tables: 1,000 x 1.1 x 6.8 = 7,480.
    assert demand["adjusted_square_feet"] == pytest.approx(7480)
    assert demand["gallons_a_minute"] == pytest.approx(7480 / 96.25)


def test_size_words_are_those_of_the_weather_service():
    """Size lists of the US National Weather Service and its Storm Prediction Center."""
    sizes = {"pea": 0.25, "marble": 0.5, "penny": 0.75, "nickel": 0.88, "quarter": 1.0,
             "half dollar": 1.25, "walnut": 1.5, "ping pong ball": 1.5, "golf ball": 1.75,
             "hen egg": 2.0, "tennis ball": 2.5, "baseball": 2.75, "tea cup": 3.0,
             "grapefruit": 4.0, "softball": 4.5}
    found = ask([{"about": "hail_word", "said": said} for said in sizes])
    assert [row["inches"] for row in found] == list(sizes.values())
    assert [row["said"] for row in found] == list(sizes)
