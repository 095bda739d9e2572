"""The covariance block of a resin file: what it must be, and resins made from it."""

import copy
import json

import jsonschema
import numpy as np
import pytest

import libcure
from libcure import _core, models
from libcure.documents import models_folder

DOCUMENT = json.loads((models_folder() / "resins" / "epoxy-amine-medium.json").read_text())
SCHEMA = json.loads((models_folder() / "schema" / "resin.schema.json").read_text())
GOOD = {
    "parameters": ["rate.k1.k_ref", "rate.k2.k_ref", "rate.n"],
    "scale": ["log", "log", "linear"],
    "matrix": [[0.04, 0.01, 0.0], [0.01, 0.01, 0.0], [0.0, 0.0, 0.0025]],
    "basis": "estimated", "source": "none", "where": "choice of this test", "note": "invented",
}


def with_covariance(**changes):
    document = copy.deepcopy(DOCUMENT)
    document["covariance"] = {**copy.deepcopy(GOOD), **changes}
    return document


def read(document, tmp_path):
    path = tmp_path / "resin.json"
    path.write_text(json.dumps(document))
    return libcure.load_resin(path)


def test_a_good_block_is_taken_and_changes_nothing(tmp_path):
    resin = read(with_covariance(), tmp_path)
    assert resin.rate(300.0, 0.3) == libcure.load_resin("epoxy-amine-medium").rate(300.0, 0.3)


def test_a_semi_definite_matrix_is_taken(tmp_path):
    read(with_covariance(matrix=[[1.0, 1.0, 0.0], [1.0, 1.0, 0.0], [0.0, 0.0, 0.0]]), tmp_path)


@pytest.mark.parametrize(
    ("changes", "field", "allowed"),
    [
        ({"parameters": ["rate.k1.k_ref", "rate.k2.k_ref", "rate.no"]}, "parameters[2]", "path of a quantity"),
        ({"parameters": ["rate.k1.k_ref", "rate.k2.k_ref", "rate.k1"]}, "parameters[2]", "path of a quantity"),
        ({"parameters": ["rate.k1.k_ref", "rate.k1.k_ref", "rate.n"]}, "parameters[0]", "each parameter once"),
        ({"parameters": ["initial_degree_of_cure", "rate.k2.k_ref", "rate.n"]}, "scale[0]", "linear"),
        ({"scale": ["log", "log"]}, "scale", "3, one for each parameter"),
        ({"scale": ["log", "log", "cubic"]}, "scale[2]", "one of linear, log, logit"),
        ({"matrix": [[0.04]]}, "matrix", "3 lists of 3 numbers"),
        ({"matrix": [[1, 0, 0], [0, 1, 0], [0, 0, -1]]}, "matrix[2][2]", "0 to"),
        ({"matrix": [[1, 0.5, 0], [0.4, 1, 0], [0, 0, 1]]}, "matrix[1][0]", "across the diagonal"),
        ({"matrix": [[1, 2, 0], [2, 1, 0], [0, 0, 1]]}, "matrix", "positive semi-definite"),
        ({"matrix": [[0, 1, 0], [1, 0, 0], [0, 0, 1]]}, "matrix", ""),
        ({"matrix": [[0.04, 0, 0], [0, 0.01, 0], [0, 0, 0.4**2]]}, "scale[2]", '"logit", or less: within 6 standard'),
        ({"matrix": [[500.0, 0, 0], [0, 0.01, 0], [0, 0, 0.0025]]}, "scale[0]", "standard deviation of at most 20"),
        ({"scale": ["logit", "log", "linear"]}, "scale[0]", "is not between two limits"),
        ({"parameters": ["rate.k1.k_ref", "rate.k2.k_ref", "heat_of_reaction"], "matrix": [[0.04, 0, 0], [0, 0.01, 0], [0, 0, 1e4]]},
         "scale[2]", '"log", or less'),
        ({"basis": "guess"}, "basis", "estimated"),
        ({"sigma": 1}, "sigma", "one of"),
    ],
)
def test_a_bad_block_is_refused_by_its_field(changes, field, allowed, tmp_path):
    with pytest.raises(libcure.CureError) as caught:
        read(with_covariance(**changes), tmp_path)
    assert f"covariance.{field}" in str(caught.value) and allowed in str(caught.value)


def test_the_schema_takes_the_good_block_and_refuses_unknown_keys():
    jsonschema.Draft202012Validator(SCHEMA["properties"]["covariance"]).validate(GOOD)
    for changes in ({"sigma": 1}, {"scale": ["cubic"]}, {"parameters": []}):
        with pytest.raises(jsonschema.ValidationError):
            jsonschema.Draft202012Validator(SCHEMA["properties"]["covariance"]).validate({**GOOD, **changes})


def test_samples_take_their_values_in_the_quantitys_own_unit():
    k = DOCUMENT["rate"]["k2"]["k_ref"]["value"]
    resins = models.resin_samples("epoxy-amine-medium", {"rate.k1.k_ref": [0.0, 0.0], "rate.k2.k_ref": [k, 2.0 * k]})
    one, two = (resin.rate(290.0, 0.2) for resin in resins)
    np.testing.assert_allclose(two, 2.0 * one, rtol=1e-14)


ALL = sorted((models_folder() / "resins").glob("*.json"))


@pytest.mark.parametrize("path", [p for p in ALL if "components" not in json.loads(p.read_text())], ids=lambda p: p.stem)
def test_a_sample_is_what_its_document_read_anew_would_be(path, tmp_path):
    """Every quantity of every model file that comes with libcure, each moved a little."""
    document = json.loads(path.read_text())
    document.pop("covariance", None)

    def moved(node):
        if isinstance(node, dict) and "unit" in node and isinstance(node.get("value"), float | int):
            return {**node, "value": node["value"] * (1.0 - 1e-3)}
        if isinstance(node, dict):
            return {key: moved(child) for key, child in node.items()}
        return [moved(child) for child in node] if isinstance(node, list) else node

    def quantity(node, place):
        for step in place.replace("[", ".").replace("]", "").split("."):
            node = node[int(step) if isinstance(node, list) else step]
        return node

    shares = [p for p in _core.resin_limits(path.read_text(), "x") if p.endswith(".share")]
    other = moved(document)
    for place in shares:
        quantity(other, place)["value"] = quantity(document, place)["value"]
    places = _core.resin_limits(json.dumps(other), "x")
    (sample,) = models.resin_samples(path, {place: [quantity(other, place)["value"]] for place in places})
    anew, alpha = read(other, tmp_path), np.linspace(0.0, 0.9, 40)
    for ask in (lambda r: r.rate(np.full(40, 300.0), alpha), lambda r: r.glass_transition(alpha),
                lambda r: [getattr(r, name) for name in dir(r) if name[0] != "_" and not callable(getattr(r, name))]):  # fmt: skip
        np.testing.assert_array_equal(ask(sample), ask(anew))


def test_samples_refuse_what_a_file_may_not_have():
    with pytest.raises(libcure.CureError, match=r"rate\.n"):
        models.resin_samples("epoxy-amine-medium", {"rate.n": [1.0, -3.0]})
    with pytest.raises(libcure.CureError, match="no quantity"):
        models.resin_samples("epoxy-amine-medium", {"rate.x": [1.0]})
    with pytest.raises(libcure.CureError, match="unlike length"):
        models.resin_samples("epoxy-amine-medium", {"rate.n": [1.0], "rate.m": [1.0, 1.1]})
    with pytest.raises(libcure.CureError):
        _core.resin_samples(json.dumps(DOCUMENT), "x", ["rate.n"], np.zeros(3))


def test_draws_stay_inside_what_a_value_may_be(tmp_path):
    """Also where next to nothing is known, and to the far ends of the normal numbers."""
    block = {"parameters": ["rate.n", "initial_degree_of_cure", "heat_of_reaction", "rate.k1.E"],
             "scale": ["logit", "logit", "log", "logit"]}  # fmt: skip
    document = with_covariance(**block, matrix=np.diag([9.0, 100.0, 4.0, 4.0]).tolist())
    document["initial_degree_of_cure"]["value"] = 1e-3
    path = tmp_path / "resin.json"
    path.write_text(json.dumps(document))
    z = np.random.default_rng(1).normal(size=(400, 4)) * 2.5
    values = _core.drawn_constants(json.dumps(document), str(path), z)
    resins = models.resin_samples(path, values)
    assert len(resins) == 400
    n, nominal = values["rate.n"], document["rate"]["n"]["value"]
    # ICDF of a logit-normal: half of the draws on either side of the nominal, and monotone.
    assert n.min() < 0.2 and n.max() > 9.0
    np.testing.assert_array_equal(np.argsort(n), np.argsort(z[:, 0]))
    np.testing.assert_allclose(np.log(n / (10.0 - n)) - np.log(nominal / (10.0 - nominal)), 3.0 * z[:, 0], rtol=1e-4, atol=1e-6)
    np.testing.assert_allclose(np.log(values["heat_of_reaction"] / document["heat_of_reaction"]["value"]), 2.0 * z[:, 2], rtol=1e-9, atol=1e-9)


def test_the_limits_are_those_of_the_reader():
    limits = _core.resin_limits(json.dumps(DOCUMENT), "x")
    assert limits["rate.n"] == (0.0, 10.0)
    assert limits["rate.k1.E"] == pytest.approx((0.0, 1e6 / 4184.0))
    assert limits["diffusion.alpha_c0"] == (-np.inf, np.inf)
    for path, (low, high) in limits.items():
        for beyond in (low - 1.0, high + 1.0):
            if np.isfinite(beyond):
                with pytest.raises(libcure.CureError):
                    models.resin_samples("epoxy-amine-medium", {path: [beyond]})


def test_a_share_cannot_vary_alone(tmp_path):
    document = json.loads((models_folder() / "resins" / "two-parallel-reactions-ictac-2000.json").read_text())
    document["covariance"] = {**GOOD, "parameters": ["rate.branches[0].share"], "scale": ["logit"], "matrix": [[0.01]]}
    with pytest.raises(libcure.CureError, match="shares add up to 1"):
        read(document, tmp_path)
