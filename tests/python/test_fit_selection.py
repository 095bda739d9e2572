"""Which law is written: the simplest that predicts runs left out as well as the best, of those that the data hold."""

from types import SimpleNamespace

import numpy as np
import pytest
from calorimeter_chain import LAWS, Faults, drawn, runs_of
from test_fit_instrument import ABOUT, ramps, study_of

import libcure
from libcure import fitting
from libcure.fitting.selection import choose, compare


def made_up(label, constants, aicc=0.0, unfit=""):
    return SimpleNamespace(law=SimpleNamespace(label=label), x=np.zeros(constants), aicc=aicc, unfit=unfit)


def missed(*rms):
    return [SimpleNamespace(run=f"r{i}", rms_rate=v) for i, v in enumerate(rms)]


def test_the_simplest_within_one_standard_error_is_written():
    fits = [made_up("simple", 3), made_up("rich", 7, -500.0)]
    close = choose(fits, {"simple": missed(0.010, 0.013, 0.009, 0.012), "rich": missed(0.011, 0.011, 0.010, 0.0105)})
    assert (close.label, close.best) == ("simple", "rich") and "within one standard error" in close.reason
    far = choose(fits, {"simple": missed(0.02, 0.022, 0.018, 0.021), "rich": missed(0.011, 0.011, 0.010, 0.0105)})
    assert far.label == "rich"


def test_a_law_on_its_bounds_takes_no_part():
    fits = [made_up("held", 3, 10.0), made_up("bounded", 5, -3000.0, "m ended on its bound, 0.01")]
    assert choose(fits, {"held": missed(0.02, 0.02, 0.02), "bounded": missed(0.01, 0.01, 0.01)}).label == "held"


def test_too_few_runs_go_by_the_criterion():
    choice = choose([made_up("a", 3, 10.0), made_up("b", 5, 0.0)], {"a": missed(0.01, 0.01), "b": missed(0.02, 0.02)})
    assert choice.label == "b" and "too few" in choice.reason


def test_points_that_hang_together_count_less():
    """A law that misses a little but everywhere must not be thousands of AICc away for its number of points."""
    found = []
    for points in (300, 1200):
        runs = runs_of("nth-order", Faults(white=0.001, step=150.0), np.random.default_rng(1), holds={}, points=points)
        fits = [fitting.fit_law(fitting.FitLaw(law), runs, options=fitting.Options(starts=2, instrument=fitting.EXACT))
                for law in ("nth-order", "autocatalytic")]
        compare(fits)
        found.append(abs(fits[0].aicc - fits[1].aicc))
        assert sum(fit.weight for fit in fits) == pytest.approx(1.0)
    assert found[1] < 3.0 * found[0] + 10.0


@pytest.mark.parametrize("seed", range(4))
def test_the_true_law_is_written_or_one_that_predicts_as_well(seed):
    random = np.random.default_rng([seed, 77])
    law = ("nth-order", "autocatalytic")[seed % 2]
    runs = runs_of(law, drawn(random), random, points=400)
    fits = [fitting.fit_law(fitting.FitLaw(name), runs, options=fitting.Options(starts=2)) for name in ("nth-order", "autocatalytic")]
    compare(fits)
    left_out = {fit.law.label: fitting.hold_out(fit) for fit in fits}
    choice = choose(fits, left_out)
    rms = {name: np.sqrt(np.mean([h.rms_rate**2 for h in found])) for name, found in left_out.items()}
    assert choice.label == law or rms[choice.label] < 1.05 * rms[law]


@pytest.mark.parametrize(("truth", "rival"), [("chern-poehlein", "rabinowitch"), ("rabinowitch", "chern-poehlein")])
def test_of_two_forms_of_diffusion_control_the_true_one_is_written(truth, rival):
    """By runs left out; points that hang together once preferred the wrong one by thousands of AICc."""
    random = np.random.default_rng([0, 78])
    runs = runs_of(truth, drawn(random), random, points=400)
    fits = [fitting.fit_law(LAWS[name], runs, options=fitting.Options(starts=3)) for name in (rival, truth)]
    compare(fits)
    assert choose(fits, {fit.law.label: fitting.hold_out(fit) for fit in fits}).label == LAWS[truth].label


def test_who_asks_for_a_law_gets_it_and_is_told_the_cost(tmp_path):
    records = ramps("autocatalytic", (2.0, 5.0, 10.0, 20.0), Faults(), np.random.default_rng(2), 400)
    laws = [{"law": "nth-order"}, {"law": "autocatalytic"}]
    study = fitting.run(study_of(tmp_path, records, laws=laws, model={**ABOUT, "law": "nth-order"}))
    assert study.best.law.label == "nth-order"
    said = next(f for f in study.findings if f.code == "asked_for")
    assert "times as far" in said.message and "autocatalytic would be written" in said.message
    result = fitting.result_document(study)
    libcure.validate(result)
    assert result["choice"]["law"] == "nth-order" and {law["law"]: law["weight"] for law in result["laws"]}["autocatalytic"] > 0.99
    free = fitting.run(study_of(tmp_path, records, laws=laws))
    assert free.best.law.label == "autocatalytic" and free.choice is not None
    with pytest.raises(libcure.CureError, match=r"model\.law"):
        study_of(tmp_path, records, laws=laws, model={**ABOUT, "law": "parallel"})


