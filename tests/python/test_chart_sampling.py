"""Samples of what is uncertain, and Sobol' indices, against closed forms and against SALib."""

import json
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from SALib.analyze import sobol as salib_sobol
from SALib.sample import sobol as salib_sample
from sampling_limits import farthest
from scipy.special import ndtri
from scipy.stats import qmc, rankdata

import libcure
from libcure import _core, models, sampling
from libcure.sampling import UncertainInput

RESINS = Path(__file__).parents[2] / "models" / "resins"
DEMO = (
    "epoxy-amine-slow",
    "epoxy-amine-medium",
    "epoxy-amine-fast",
    "vinyl-ester-cold",
    "unsaturated-polyester-cold",
    "epoxy-amine-mechanistic",
)


def test_points_are_balanced_inside_the_cube_and_repeat_to_the_bit():
    points = sampling.unit_points(7, 256, 11)
    assert points.shape == (256, 7)
    assert points.min() > 0.0 and points.max() < 1.0
    # A Sobol' sequence puts one of 2^k points into each of 2^k equal slices of every coordinate.
    for column in points.T:
        assert sorted((column * 256).astype(int)) == list(range(256))
    np.testing.assert_array_equal(points, sampling.unit_points(7, 256, 11))
    assert not np.array_equal(points, sampling.unit_points(7, 256, 12))
    assert sampling.unit_points(0, 16, 1).shape == (16, 0)


@pytest.mark.parametrize(("dimensions", "samples", "seed"), [(1, 16, 0), (24, 256, 20260101), (60, 4096, 2**32 - 1)])
def test_points_are_the_sequence_of_scipy_under_a_triangular_scrambling(dimensions, samples, seed):
    """A digital shift falls out of the difference (exclusive or) of two points, and a lower triangular matrix with ones
    on its diagonal keeps the first bit in which they differ (J. Matousek, J. Complexity 14, 527, 1998)."""
    bits = 30

    def from_first(points):
        whole = (points * 2.0**bits).astype(np.int64)
        return whole ^ whole[0]

    plain = from_first(qmc.Sobol(dimensions, scramble=False, bits=bits).random(samples))
    found = from_first(sampling.unit_points(dimensions, samples, seed))
    np.testing.assert_array_equal(np.frexp(found)[1], np.frexp(plain)[1])
    # It is linear: the difference of two differences is one of them, that of the same place in the plain sequence.
    place = {tuple(row): i for i, row in enumerate(plain)}
    sums = [place[tuple(plain[i] ^ plain[samples - 1])] for i in range(samples)]
    np.testing.assert_array_equal(found ^ found[samples - 1], found[sums])
    assert not (found[1:] == plain[1:]).all(axis=0).any()


@given(st.floats(2.0**-31, 1.0 - 2.0**-31))
def test_normal_numbers_are_those_of_scipy(u):
    # Near the median the number itself vanishes, so that its relative error may be that of 1/2 - u.
    assert sampling.normal(np.array(u)) == pytest.approx(ndtri(u), rel=4e-15, abs=1e-16)


@given(st.lists(st.sampled_from([0.0, 1.0, 2.5, 60.0, np.inf]), min_size=1, max_size=30).map(np.array))
def test_ranks_are_those_of_scipy(times):
    found, measure = sampling.bounded_measure(np.append(times, np.inf))
    assert measure == "rank"
    np.testing.assert_allclose(found, rankdata(np.append(times, np.inf)) / (len(times) + 1), rtol=1e-15)


@pytest.mark.parametrize(
    ("distribution", "move", "spread", "mean", "sd"),
    [
        ("normal", "ground.temperature_offset_K", 1.5, 0.0, 1.5),
        ("uniform", "ambient_offset_K", 3.0, 0.0, 3.0 / np.sqrt(3.0)),
        ("normal", "contact_factor", 0.1, 1.0, 0.1),
        ("uniform", "contact_factor", 0.3, 1.0, 0.3 / np.sqrt(3.0)),
        # Mean and deviation of a lognormal number, exp(s^2/2) and mean sqrt(exp(s^2) - 1): textbook, from memory.
        ("lognormal", "contact_factor", 0.5, np.exp(0.125), np.exp(0.125) * np.sqrt(np.exp(0.25) - 1.0)),
    ],
)
def test_distributions(distribution, move, spread, mean, sd):
    uncertain = UncertainInput("x", "X", (move,), distribution, spread)
    u = sampling.unit_points(1, 16384, 5)[:, 0]
    values = uncertain.values(u)
    assert values.mean() == pytest.approx(mean, abs=2e-3 * spread)
    assert values.std() == pytest.approx(sd, rel=5e-3)
    # The median is no change.
    assert uncertain.values(np.array([0.5]))[0] == (1.0 if move.endswith("_factor") else 0.0)
    assert (np.diff(uncertain.values(np.sort(u))) >= 0.0).all()


def block(matrix, scale):
    document = json.loads((RESINS / "two-parallel-reactions-ictac-2000.json").read_text(encoding="utf-8"))
    document["covariance"] = {"parameters": ["heat_of_reaction", "rate.branches[1].k.A"], "scale": scale, "matrix": matrix,
                              "basis": "estimated", "source": "none"}  # fmt: skip
    return document


@pytest.mark.parametrize("correlation", [-0.7, 0.0, 0.9, 1.0])
def test_constants_have_the_covariance_that_the_file_states(correlation):
    matrix = np.array([[0.04, correlation * 0.2 * 30.0], [correlation * 0.2 * 30.0, 900.0]])
    document = block(matrix.tolist(), ["log", "linear"])
    values = _core.drawn_constants(json.dumps(document), "x", np.random.default_rng(1).standard_normal((200_000, 2)))
    heat, A = document["heat_of_reaction"]["value"], document["rate"]["branches"][1]["k"]["A"]["value"]
    changes = np.stack([np.log(values["heat_of_reaction"] / heat), values["rate.branches[1].k.A"] - A])
    # A variance of n normal deviates has the standard error sqrt(2/n) of it; a covariance less.
    scale = np.outer([0.2, 30.0], [0.2, 30.0])
    np.testing.assert_allclose(np.cov(changes) / scale, matrix / scale, atol=farthest() * np.sqrt(2 / 200_000))


def test_constants_without_covariance_and_with_an_impossible_one():
    text = (RESINS / "two-parallel-reactions-ictac-2000.json").read_text(encoding="utf-8")
    assert _core.drawn_constants(text, "x", np.zeros((3, 0))) == {}
    with pytest.raises(libcure.CureError, match="z: 1 columns; allowed: 0"):
        _core.drawn_constants(text, "x", np.zeros((3, 1)))
    with pytest.raises(libcure.CureError, match="positive semi-definite"):
        _core.drawn_constants(json.dumps(block([[1.0, 2.0], [2.0, 1.0]], ["log", "linear"])), "x", np.zeros((1, 2)))


@pytest.mark.parametrize("name", DEMO)
def test_demo_resins_vary_as_their_notes_say(name):
    """The gel time of a thin film at 20 °C, what these models are calibrated to, varies by the stated share."""
    document = json.loads((RESINS / f"{name}.json").read_text(encoding="utf-8"))
    covariance = document["covariance"]
    assert covariance["basis"] == "estimated" and "not from a fit" in covariance["note"]
    from scipy.special import ndtri

    z = ndtri(sampling.unit_points(len(covariance["parameters"]), 256, 3))
    values = _core.drawn_constants(json.dumps(document), name, z)
    resins = models.resin_samples(name, values)
    target = document["reference_outcomes"][0]["time"]["value"] * 60.0
    times = np.geomspace(target / 4.0, target * 4.0, 4001)
    gel = []
    for resin in resins:
        alpha = resin.isothermal([293.15], times, resin.initial_degree_of_cure)[0]
        gel.append(np.interp(resin.alpha_gel, alpha, times))
    logs = np.log(np.array(gel) / target)
    assert logs.std() == pytest.approx(0.10, abs=0.015)
    assert abs(np.median(logs)) < 0.02


# Sobol' indices

A, B = 7.0, 0.1


def ishigami(x):
    """T. Ishigami, T. Homma, Proc. ISUMA '90 (1990) 398, on (-pi, pi); from memory."""
    return np.sin(x[..., 0]) + A * np.sin(x[..., 1]) ** 2 + B * x[..., 2] ** 4 * np.sin(x[..., 0])


def ishigami_indices():
    """Closed form by integration of the function above."""
    pi = np.pi
    v1 = 0.5 * (1.0 + B * pi**4 / 5.0) ** 2
    v2 = A**2 / 8.0
    v13 = B**2 * pi**8 * (1.0 / 18.0 - 1.0 / 50.0)
    total = v1 + v2 + v13
    return np.array([v1, v2, 0.0]) / total, np.array([v1 + v13, v2, v13]) / total


def indices_of(function, n, groups, dimensions, seed=3):
    points = sampling.unit_points(2 * dimensions, n, seed)
    return sampling.sobol_indices(function(sampling.saltelli_points(points, groups)))


def test_indices_against_the_closed_form():
    first, total = indices_of(lambda u: ishigami(np.pi * (2.0 * u - 1.0)), 8192, [[0], [1], [2]], 3)
    exact_first, exact_total = ishigami_indices()
    # Errors of quasi-random points at 8192 rows, for this seed below 0.01.
    np.testing.assert_allclose(first, exact_first, atol=0.01)
    np.testing.assert_allclose(total, exact_total, atol=0.01)


def test_indices_against_salib_on_the_same_rows():
    """SALib (W. Usher et al.) has the same estimators; given our evaluations it must give our numbers."""
    n, d = 512, 3
    points = sampling.unit_points(2 * d, n, 9)
    y = ishigami(np.pi * (2.0 * sampling.saltelli_points(points, [[0], [1], [2]]) - 1.0))
    first, total = sampling.sobol_indices(y)
    problem = {"num_vars": d, "names": list("abc"), "bounds": [[0.0, 1.0]] * d}
    # SALib goes through the blocks row by row.
    other = salib_sobol.analyze(problem, y.T.ravel(), calc_second_order=False, seed=1)
    np.testing.assert_allclose(first, other["S1"], rtol=1e-9, atol=1e-12)
    np.testing.assert_allclose(total, other["ST"], rtol=1e-9, atol=1e-12)


def test_indices_of_groups_against_salib_from_end_to_end():
    """SALib samples and analyses by itself; the groups' indices agree within the noise of both."""
    problem = {"num_vars": 3, "names": list("abc"), "bounds": [[-np.pi, np.pi]] * 3, "groups": ["p", "q", "p"]}
    x = salib_sample.sample(problem, 4096, calc_second_order=False, seed=2)
    other = salib_sobol.analyze(problem, ishigami(x), calc_second_order=False, seed=2)
    first, total = indices_of(lambda u: ishigami(np.pi * (2.0 * u - 1.0)), 4096, [[0, 2], [1]], 3)
    np.testing.assert_allclose(first, other["S1"], atol=0.03)
    np.testing.assert_allclose(total, other["ST"], atol=0.03)


def test_errors_of_the_indices_are_as_large_as_they_scatter():
    """The bootstrap's standard error against the scatter over independent random rows, and against SALib's."""
    n, d = 256, 3
    groups = [[0], [1], [2]]
    random = np.random.default_rng(4)
    found = []
    for _ in range(200):
        y = ishigami(np.pi * (2.0 * sampling.saltelli_points(random.random((n, 2 * d)), groups) - 1.0))
        found.append(sampling.sobol_indices(y))
    first, total = sampling.index_errors(y, seed=1, resamples=400)
    scatter_first, scatter_total = (np.array(v).std(axis=0) for v in zip(*found, strict=True))
    # A standard error from 200 repetitions is itself good to 5 %; one set of rows differs from the next by more.
    np.testing.assert_allclose(first, scatter_first, rtol=0.35)
    np.testing.assert_allclose(total, scatter_total, rtol=0.35)
    problem = {"num_vars": d, "names": list("abc"), "bounds": [[0.0, 1.0]] * d}
    other = salib_sobol.analyze(
        problem, y.T.ravel(), calc_second_order=False, num_resamples=400, conf_level=0.95, seed=1
    )
    np.testing.assert_allclose(1.959964 * first, other["S1_conf"], rtol=0.2)
    np.testing.assert_allclose(1.959964 * total, other["ST_conf"], rtol=0.2)


def test_nothing_varies():
    first, total = sampling.sobol_indices(np.ones((4, 16)))
    assert np.isnan(first).all() and np.isnan(total).all()


def test_rows_change_one_group_at_a_time():
    points = sampling.unit_points(8, 16, 1)
    rows = sampling.saltelli_points(points, [[0, 3], [1]])
    assert rows.shape == (4, 16, 4)
    np.testing.assert_array_equal(rows[0], points[:, :4])
    np.testing.assert_array_equal(rows[-1], points[:, 4:])
    np.testing.assert_array_equal(rows[1][:, [1, 2]], rows[0][:, [1, 2]])
    np.testing.assert_array_equal(rows[1][:, [0, 3]], rows[-1][:, [0, 3]])


@given(st.lists(st.one_of(st.floats(1.0, 1e7), st.just(np.inf)), min_size=2, max_size=40))
def test_measure_is_finite_keeps_the_order_and_puts_never_last(times):
    t = np.array(times)
    y, measure = sampling.bounded_measure(t)
    assert np.isfinite(y).all()
    assert measure == ("log time" if np.isfinite(t).all() else "rank")
    assert sampling.bounded_measure(np.array([0.0, 1.0]))[1] == "rank"
    order = np.argsort(t, kind="stable")
    assert (np.diff(y[order]) >= 0.0).all()
    if measure == "rank":
        assert len(set(y[np.isinf(t)])) == 1 and y.max() == y[np.isinf(t)][0]
