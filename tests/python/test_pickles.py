"""What the front hands out can be pickled, and is the same afterwards."""

import pickle

import numpy as np
import pytest

import libcure
from libcure import _core, models
from libcure.documents import models_folder

CASES = models_folder() / "cases"
RESINS = ["epoxy-amine-medium", *sorted(name for name in models.ids("resins") if "blend" in name)]


def again(one):
    return pickle.loads(pickle.dumps(one))


def rates(resin):
    return resin.rate(np.linspace(275.0, 330.0, 5), np.linspace(0.01, 0.6, 5))


@pytest.mark.parametrize("name", RESINS)
def test_a_resin_without_its_file(name, tmp_path):
    resin = again(again(libcure.load_resin(name)))
    np.testing.assert_array_equal(rates(resin), rates(libcure.load_resin(name)))
    assert (resin.id, resin.title) == (libcure.load_resin(name).id, libcure.load_resin(name).title)
    copy = tmp_path / "mine.json"
    if name == RESINS[0]:
        copy.write_text(models.resin_path(name).read_text(encoding="utf-8"), encoding="utf-8")
        kept = pickle.dumps(libcure.load_resin(copy))
        copy.unlink()
        np.testing.assert_array_equal(rates(pickle.loads(kept)), rates(resin))


def test_resins_of_cases_and_samples():
    case = libcure.load_case(CASES / "cold_ground_winter.json")
    np.testing.assert_array_equal(rates(again(case.resin)), rates(case.resin))
    for one in models.resin_samples("epoxy-amine-medium", {"rate.k1.E": [50.0, 55.0], "rate.n": [1.5, 2.0]}):
        np.testing.assert_array_equal(rates(again(one)), rates(one))
    draw = _core.UncertainResin([(models.resin_path("epoxy-amine-medium"), 1.0)])
    with pytest.raises(TypeError, match="pickle what drew it"):
        pickle.dumps(draw.resins(np.zeros((1, draw.dimensions)))[0])


def test_what_a_prediction_consists_of():
    case = libcure.load_case(CASES / "cold_ground_winter.json")
    result = libcure.predict(case, uncertain="none")
    same = again(result)
    assert same.verdict == result.verdict and same.times == again(result.times) == result.times
    assert again(result.answer) == result.answer and again(result.page) == result.page
    np.testing.assert_array_equal(again(result.history).stages[-1].temperature, result.history.stages[-1].temperature)
    trace = result.at("liner outer face", [60.0, 120.0])
    np.testing.assert_array_equal(again(trace).temperature_C, trace.temperature_C)
    rows = libcure.ensemble.simulate_many(case, {"ground.temperature_offset_K": [0.0, 1.0]})
    assert again(rows).to_dataframe().equals(rows.to_dataframe())
    with pytest.raises(libcure.CureError) as caught:
        libcure.load_case("none.json")
    error = again(caught.value)
    assert (str(error), error.field, error.file) == (str(caught.value), caught.value.field, caught.value.file)
