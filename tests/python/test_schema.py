"""The JSON Schemas say the same as the core's reader, as far as a schema can."""

import copy
import json
import math
import re
from pathlib import Path

import jsonschema
import pytest

import libcure
from libcure import _core, schemas
from libcure.documents import formats
from libcure.schemas import differing
from libcure.words.phrases import LANGUAGES

MODELS = Path(__file__).parents[2] / "models"
SCHEMA = json.loads((MODELS / "schema" / "case.schema.json").read_text())
DOCUMENTS = sorted(p for folder in ("cases", "resins", "materials", "grounds") for p in (MODELS / folder).glob("*.json"))
FULL = {
    "format": "libcure/case/1",
    "title": "Invented: everything given",
    "note": "Invented.",
    "resin": {"components": [{"resin": "epoxy-amine-slow", "share": 0.6},
                             {"resin": "epoxy-amine-fast", "share": 0.4}]},
    "pipe": {"inner_diameter_mm": 500, "wall_mm": 20, "material": "concrete"},
    "liner": {"thickness_mm": 5, "length_mm": 600, "fibre_volume_fraction": 0.3, "fibre": "e-glass"},
    "bladder": {"thickness_mm": 4, "material": "natural-rubber"},
    "ground": {"material": "moist-sand", "temperature_C": 8, "radius_m": 2},
    "initial_temperature_C": {"resin": 15, "fibre": 15, "packer": 15, "pipe": 8, "air": 12},
    "contact_resistance_m2K_W": {"bladder_liner": 0, "liner_pipe": 0.001, "pipe_ground": 0},
    "stages": [
        {"kind": "mixed_mass", "duration_min": 4, "mass_kg": 1, "surface_area_m2": 0.1, "h_W_m2K": 8,
         "ambient_temperature_C": 12},
        {"kind": "wet_out", "duration_min": 8, "h_W_m2K": 10, "ambient_temperature_C": 12, "absorbed_sun_W_m2": 0,
         "on": "table"},
        {"kind": "held", "duration_min": 600, "fill_temperature_C": {"time_min": [0, 60], "value": [12, 30]},
         "h_W_m2K": 10, "ends": "at_duration"},
        {"kind": "after_release", "duration_min": 600, "bore_temperature_C": 10, "h_W_m2K": 5},
    ],
    "release": {"by": "conversion", "alpha_min": 0.7, "Tg_margin_K": 5, "safety_factor": 1.25},
    "service": {"temperature_C": 25, "Tg_margin_K": 10},
    "accuracy": "fine",
    "section": {"kind": "around", "columns": 16, "liner_thickness_mm": {"clock": [4, 6, 8], "value": [5, 7, 5]},
                "water": {"depth_mm": 40, "temperature_C": 6, "h_W_m2K": 150},
                "ground_offset_K": {"clock": [6, 12], "value": [0, 2]}},
    "numerics": {"cells": {"bladder": 8, "liner": 12, "pipe": 8, "ground": 20}, "temperature_tolerance_K": 0.01,
                 "alpha_tolerance": 1e-4},
}

ALONG = {"kind": "along", "columns": 16, "length_mm": 500, "bare_pipe_mm": 50,
         "liner_thickness_mm": {"position_mm": [100, 200, 300], "value": [5, 9, 5]},
         "bare_gap_mm": {"from": 350, "to": 370}, "open_to_soil_mm": {"from": 20, "to": 60}}
# What cannot stand beside something in FULL.
CLIMATE = copy.deepcopy(FULL) | {
    "ground": {
        "material": "saturated-sand",
        "climate": {"annual_mean_C": 10, "amplitude_K": 9, "day_of_minimum": 35, "depth_m": 1.5, "day": 40},
        "groundwater": {"h_W_m2K": 400, "temperature_C": 6, "radius_m": 1.0},
        "freezing": True,
    },
    "stages": [
        {"kind": "wet_out", "duration_min": 8, "h_W_m2K": "wind", "wind_m_s": 4, "emissivity": 0.9,
         "surroundings_temperature_C": 2, "ambient_temperature_C": 12,
         "absorbed_sun_W_m2": {"time_min": [0, 5], "value": [0, 100]}, "on": "packer"},
        {"kind": "held", "duration_min": 600, "h_W_m2K": "natural", "fill_gauge_pressure_bar": 0.8, "ends": "at_duration",
         "fill_cycle": {"start_C": 12, "legs": [{"to_C": 45, "rate_K_min": 1.5, "hold_min": 60},
                                                {"to_C": 20, "rate_K_min": 0.5, "hold_min": 0}]}},
        {"kind": "after_release", "duration_min": 600, "bore_temperature_C": 10, "h_W_m2K": "natural"},
    ],
}
MONTHS = copy.deepcopy(FULL) | {
    "ground": {
        "material": "moist-sand",
        "climate": {"monthly_mean_C": [1, 2, 5, 9, 14, 17, 19, 18, 15, 10, 6, 2], "depth_m": 1.5, "day": 40},
        "radius_m": 2,
        "freezing": False,
    },
}
MECHANICS = {"by": "mechanics", "load_hours": 3, "safety_factor": 1.25,
             "bears": {"water_head_m": 2, "pull_N": 400, "factor": 2}}  # fmt: skip
OLDER = {"alpha_min": 0.7, "Tg_above_wall_K": 5, "safety_factor": 1.25}
FULLS = {
    "given": FULL,
    "along": {**FULL, "section": ALONG, "release": MECHANICS},
    "climate": {**CLIMATE, "release": OLDER, "accuracy": {"release_min": 5}},
    "months": MONTHS,
}


def resolve(schema, at):
    """The schema that counts for a value: behind references, and of the kind that the value says."""
    while "$ref" in schema:
        schema = SCHEMA["$defs"][schema["$ref"].removeprefix("#/$defs/")]
    for rule in schema.get("allOf", []):
        if "additionalProperties" in rule.get("then", {}) and jsonschema.Draft202012Validator(rule["if"]).is_valid(at):
            return rule["then"]
    return schema


def leaves(value, schema, path=()):
    """Every number of the full case with its path and its schema."""
    schema = resolve(schema, value)
    if isinstance(value, dict):
        for key, part in value.items():
            yield from leaves(part, schema["properties"][key], (*path, key))
    elif isinstance(value, list):
        for i, part in enumerate(value):
            yield from leaves(part, schema["items"], (*path, i))
    elif isinstance(value, int | float) and not isinstance(value, bool):
        yield path, schema


LEAVES = [(name, path, schema) for name, full in FULLS.items() for path, schema in leaves(full, SCHEMA)]


def with_value(path, value, full=FULL):
    document = copy.deepcopy(full)
    place = document
    for step in path[:-1]:
        place = place[step]
    place[path[-1]] = value
    return document


def accepted_by_schema(document):
    try:
        libcure.validate(document)
    except libcure.CureError:
        return False
    return True


def accepted_by_core(document, path):
    """Refusals for another reason than the range, such as layers that do not fit, do not count."""
    try:
        libcure.Case.from_dict(document)
    except libcure.CureError as error:
        field = "".join(f"[{s}]" if isinstance(s, int) else f".{s}" for s in path).lstrip(".")
        elsewhere = ("radius", "time before", "one before", "the liner's length", "pipe's inner diameter")
        return error.field != field or any(words in error.allowed for words in elsewhere)
    return True


@pytest.mark.parametrize("name", FULLS)
def test_full_case_is_accepted_and_has_no_defaults(name):
    libcure.validate(FULLS[name])
    assert libcure.Case.from_dict(FULLS[name]).defaults == []


def test_every_key_of_the_schema_is_in_a_full_case():
    def given(value):
        if isinstance(value, dict):
            for key, part in value.items():
                yield key
                yield from given(part)
        elif isinstance(value, list):
            for part in value:
                yield from given(part)

    assert set(all_keys(SCHEMA)) == {key for full in FULLS.values() for key in given(full)}


def path_id(x):
    return ".".join(map(str, x)) if isinstance(x, tuple) else x if isinstance(x, str) else ""


@pytest.mark.parametrize(("name", "path", "schema"), LEAVES, ids=path_id)
def test_same_range(name, path, schema):
    low = schema.get("minimum", schema.get("exclusiveMinimum"))
    assert low is not None
    open_end = "exclusiveMinimum" in schema
    radius = path[-1] == "radius_m"  # its lower end depends on the pipe
    step = 1 if schema["type"] == "integer" else 1e-6 * max(1.0, abs(low))
    values = [] if radius else [(low, not open_end), (low - step, False)]
    if "maximum" in schema:
        high = schema["maximum"]
        values += [(high, True), (high * (1 + 1e-6) if schema["type"] != "integer" else high + 1, False)]
    if path == ("ground", "temperature_C"):
        assert len(values) == 4  # the walk does reach numbers behind references
    for value, good in values:
        document = with_value(path, value, FULLS[name])
        assert accepted_by_schema(document) == good, value
        assert accepted_by_core(document, path) == good, value


def test_enough_numbers_were_tried():
    assert len(LEAVES) > 40


def objects(value, path=()):
    if isinstance(value, dict):
        yield path
        for key, part in value.items():
            yield from objects(part, (*path, key))
    elif isinstance(value, list):
        for i, part in enumerate(value):
            yield from objects(part, (*path, i))


@pytest.mark.parametrize(
    ("name", "path"), [(name, path) for name, full in FULLS.items() for path in objects(full)], ids=path_id
)
def test_unknown_keys_are_refused_by_both(name, path):
    document = with_value((*path, "surprise"), 1, FULLS[name])
    assert not accepted_by_schema(document)
    with pytest.raises(libcure.CureError) as caught:
        libcure.Case.from_dict(document)
    assert "surprise" in caught.value.field


def keys_that_may_be_missing():
    for name, full in FULLS.items():
        paths = [()] + [(part,) for part in ("pipe", "liner", "ground", "bladder")]
        paths += [("section",)] if "section" in full else []
        paths += [("ground", part) for part in ("climate", "groundwater") if part in full["ground"]]
        for i, stage in enumerate(full["stages"]):
            paths += [("stages", i)]
            if "fill_cycle" in stage:
                paths += [("stages", i, "fill_cycle"), ("stages", i, "fill_cycle", "legs", 0)]
        for path in paths:
            place = full
            for step in path:
                place = place[step]
            for key in place:
                yield name, (*path, key)


@pytest.mark.parametrize(("name", "path"), list(keys_that_may_be_missing()), ids=path_id)
def test_same_keys_are_required(name, path):
    document = copy.deepcopy(FULLS[name])
    place = document
    for step in path[:-1]:
        place = place[step]
    del place[path[-1]]
    try:
        libcure.Case.from_dict(document)
        core = True
    except libcure.CureError:
        core = False
    assert accepted_by_schema(document) == core


# Two things that may not stand together, or one that may not stand alone.
PAIRS = {
    "climate_beside_temperature": (CLIMATE, ("ground", "temperature_C"), 8),
    "months_beside_mean": (MONTHS, ("ground", "climate", "annual_mean_C"), 8),
    "groundwater_beside_radius": (CLIMATE, ("ground", "radius_m"), 2),
    "freezing_not_a_boolean": (CLIMATE, ("ground", "freezing"), "yes"),
    "eleven_months": (MONTHS, ("ground", "climate", "monthly_mean_C"), [1] * 11),
    "cycle_beside_temperature": (CLIMATE, ("stages", 1, "fill_temperature_C"), 20),
    "cycle_without_legs": (CLIMATE, ("stages", 1, "fill_cycle", "legs"), []),
    "wind_without_speed": (FULL, ("stages", 1, "h_W_m2K"), "wind"),
    "speed_without_wind": (CLIMATE, ("stages", 0, "h_W_m2K"), "natural"),
    "wind_in_the_bladder": (CLIMATE, ("stages", 1, "h_W_m2K"), "wind"),
    "natural_for_a_pouch": (FULL, ("stages", 0, "h_W_m2K"), "natural"),
    "natural_on_a_table": (FULL, ("stages", 1, "h_W_m2K"), "natural"),
    "pressure_with_a_number": (CLIMATE, ("stages", 1, "h_W_m2K"), 10),
    "surroundings_without_emissivity": (FULL, ("stages", 1, "surroundings_temperature_C"), 5),
    "other_correlation": (CLIMATE, ("stages", 0, "h_W_m2K"), "breeze"),
}


@pytest.mark.parametrize("name", PAIRS)
def test_what_excludes_each_other_is_refused_by_both(name):
    full, path, value = PAIRS[name]
    document = with_value(path, value, full)
    assert not accepted_by_schema(document)
    with pytest.raises(libcure.CureError):
        libcure.Case.from_dict(document)


@pytest.mark.parametrize("path", DOCUMENTS, ids=lambda p: f"{p.parent.name}/{p.stem}")
def test_shipped_documents_fit(path):
    libcure.validate(json.loads(path.read_text(encoding="utf-8")))


@pytest.mark.parametrize("path", sorted((MODELS / "cases").glob("*.json")), ids=lambda p: p.stem)
def test_verdicts_fit(path):
    libcure.validate(libcure.predict(path).verdict)


@pytest.mark.parametrize("path", sorted((MODELS / "schema").glob("*.json")), ids=lambda p: p.stem)
def test_schemas_are_schemas(path):
    jsonschema.Draft202012Validator.check_schema(json.loads(path.read_text(encoding="utf-8")))


def test_formats():
    assert {"libcure/case/1", "libcure/resin/1", "libcure/verdict/1"} <= set(formats())
    with pytest.raises(libcure.CureError, match="format"):
        libcure.validate({"format": "libcure/nothing/1"})
    with pytest.raises(libcure.CureError, match="format"):
        libcure.validate({})


RESIN = json.loads((MODELS / "resins" / "epoxy-amine-fast.json").read_text(encoding="utf-8"))


def a_resin_is_refused(good, path, value, file):
    """By reader and schema, with the value at `path` changed; None takes it away."""
    document = copy.deepcopy(good)
    place = document
    for step in path[:-1]:
        place = place[step]
    if value is None:
        del place[path[-1]]
    else:
        place[path[-1]] = value
    file.write_text(json.dumps(document))
    assert not accepted_by_schema(document)
    with pytest.raises(libcure.CureError):
        libcure.load_resin(file)


@pytest.mark.parametrize(
    ("path", "value"),
    [
        (("rate", "law"), "guess"),
        (("rate", "k1", "E", "unit"), "kg/m3"),
        (("rate", "k1", "E", "basis"), "hearsay"),
        (("rate", "k1", "E", "source"), None),
        (("rate", "k1", "E", "value"), "14"),
        (("rate", "k1", "surprise"), 1),
        (("rate", "k3"), RESIN["rate"]["k1"]),
        (("rate", "m"), None),
        (("density",), None),
        (("status",), "certain"),
        (("diffusion", "form"), "other"),
        (("working_limit",), {}),
        (("surprise",), 1),
    ],
    ids=lambda x: ".".join(x) if isinstance(x, tuple) else "",
)
def test_bad_resins_are_refused_by_both(path, value, tmp_path):
    a_resin_is_refused(RESIN, path, value, tmp_path / "resin.json")


BLEND = json.loads((MODELS / "resins" / "epoxy-amine-blend-60-40.json").read_text(encoding="utf-8"))


def test_a_shipped_blend_says_where_its_shares_come_from():
    assert BLEND["shares"]["basis"] == "assumption"
    assert BLEND["shares"]["source"] == "none"


@pytest.mark.parametrize(
    ("path", "value"),
    [
        (("shares", "basis"), "hearsay"),
        (("shares", "basis"), None),
        (("shares", "source"), None),
        (("shares", "surprise"), 1),
        (("shares",), "our own"),
        (("components", 0, "share"), 1.5),
        (("components", 0, "resin"), None),
        (("surprise",), 1),
    ],
    ids=lambda x: ".".join(map(str, x)) if isinstance(x, tuple) else "",
)
def test_bad_blends_are_refused_by_both(path, value, tmp_path):
    a_resin_is_refused(BLEND, path, value, tmp_path / "blend.json")


def all_keys(schema):
    if isinstance(schema, dict):
        for name, part in schema.items():
            if name == "properties":
                yield from part
            yield from all_keys(part)
    elif isinstance(schema, list):
        for part in schema:
            yield from all_keys(part)


def test_schemas_and_reference_page_are_those_of_the_reader():
    """After a change of the tables: .venv/bin/python -m libcure.schemas --write models/schema."""
    assert differing(MODELS / "schema") == []


def test_the_reference_page_has_every_key():
    page = (MODELS / "schema" / "README.md").read_text(encoding="utf-8")
    for path in (MODELS / "schema").glob("*.schema.json"):
        schema = json.loads(path.read_text(encoding="utf-8"))
        schema.get("$defs", {}).pop("law", None)  # of the laws themselves
        assert {key for key in all_keys(schema) if f"`{key}`" not in page and f"{{{key}, value}}" not in page} <= {"value", "values"}


def test_the_languages_of_a_chart_are_those_of_the_catalogue():
    assert json.loads((MODELS / "schema" / "chart.schema.json").read_text())["properties"]["publication"]["properties"]["language"]["enum"] == list(LANGUAGES)


def test_what_the_front_knows_by_name_is_what_its_documents_may_say():
    from libcure.recording.site import EVENTS, TEXTS
    from libcure.studying.cups import CUPS
    from libcure.studying.family import FAMILIES
    from libcure.studying.measurements import KINDS

    study = json.loads((MODELS / "schema" / "study.schema.json").read_text())["properties"]
    kinds = study["measurements"]["items"]
    assert set(study["family"]["enum"]) == set(FAMILIES) and set(kinds["properties"]["kind"]["enum"]) == set(KINDS)
    (cup,) = (rule["then"] for rule in kinds["allOf"] if rule["then"]["properties"]["kind"]["const"] == "cup")
    assert cup["properties"]["cup"]["enum"] == list(CUPS)
    site = json.loads((MODELS / "schema" / "site.schema.json").read_text())["properties"]
    assert set(TEXTS) <= set(site) and list(site["events"]["properties"]) == list(EVENTS)


def test_schemas_are_written_by_the_command(tmp_path, monkeypatch, capsys):
    monkeypatch.setattr("sys.argv", ["schemas", "--write", str(tmp_path)])
    assert schemas.main() == 0
    assert sorted(path.name for path in tmp_path.iterdir()) == sorted(schemas.described())
    assert differing(tmp_path) == []
    (tmp_path / "case.schema.json").write_text("{}")
    (tmp_path / "resin.schema.json").unlink()
    assert differing(tmp_path) == ["case.schema.json", "resin.schema.json"]
    monkeypatch.setattr("sys.argv", ["schemas"])
    assert schemas.main() == 0
    assert capsys.readouterr().out == ""


RESIN_SCHEMA = json.loads((MODELS / "schema" / "resin.schema.json").read_text(encoding="utf-8"))
PARTS = [(part, kind["then"]) for part in ("rate", "diffusion") for kind in RESIN_SCHEMA["properties"][part]["allOf"]]
QUANTITY = {"basis": "assumption", "source": "none", "where": "nowhere", "note": "Invented."}
TABULATED = {"law": "tabulated", "temperature": {"values": [0, 60], "unit": "degC"}, "alpha": {"values": [0, 1], "unit": "1"},
             "rate": {"values": [1e-5, 0, 1e-3, 0], "unit": "1/s"}, **QUANTITY}


def middle_of(schema):
    """A value that a schema of a law's constant allows."""
    if "$ref" in schema and schema["$ref"].startswith("#"):
        units = {"k_ref": "1/s", "E": "kJ/mol", "T_ref": "degC"}
        return {key: {"value": 50.0, "unit": unit, **QUANTITY} for key, unit in units.items()}
    if schema.get("type") == "array":
        branch = {"law": "nth-order", "k": middle_of({"$ref": "#"}), "n": {"value": 1.0, "unit": "1", **QUANTITY}}
        return [{**branch, "share": {"value": share, "unit": "1", **QUANTITY}} for share in (0.4, 0.6)]
    return {"value": 0.5, "unit": schema["properties"]["unit"]["enum"][0], **QUANTITY}


@pytest.mark.parametrize(("part", "kind"), PARTS, ids=lambda p: p if isinstance(p, str) else next(iter(p["properties"].values()))["const"])
def test_a_law_or_diffusion_form_of_the_schema_is_read_and_wants_its_constants(part, kind, tmp_path):
    document = json.loads((MODELS / "resins" / "epoxy-amine-slow.json").read_text(encoding="utf-8"))
    del document["covariance"]
    if kind["properties"].get("law", {}).get("const") == "tabulated":
        document |= {"rate": copy.deepcopy(TABULATED), "diffusion": {"form": "none"}}
    else:
        document[part] = {key: value["const"] if "const" in value else middle_of(value) for key, value in kind["properties"].items()}

    def read():
        path = tmp_path / "trial.json"
        path.write_text(json.dumps({**document, "id": "trial"}), encoding="utf-8")
        return libcure.models.read_resin(path)

    libcure.validate(document)
    assert read().id == "trial"
    for key in kind.get("required", []):
        kept = document[part].pop(key)
        # The place in a source is for people: the reader leaves it.
        for refuse in (lambda: libcure.validate(document), *([] if key == "where" else [read])):
            with pytest.raises(libcure.CureError, match=key):
                refuse()
        document[part][key] = kept


RESINS = [path for path in DOCUMENTS if path.parent.name == "resins" and "blend" not in path.stem]
# Their lower ends depend on another number.
BOUND_BY_ANOTHER = {"glass_transition.Tg_inf", "validity.temperature_max"}


@pytest.mark.parametrize("path", RESINS, ids=lambda p: p.stem)
def test_same_range_of_every_quantity_of_a_resin(path):
    text = path.read_text(encoding="utf-8")
    document = {key: part for key, part in json.loads(text).items() if key != "covariance"}
    tried = 0
    for name, limits in _core.resin_limits(text, str(path)).items():
        for end, outside in zip(limits, (-1.0, 1.0), strict=True):
            if math.isinf(end) or (outside < 0.0 and name in BOUND_BY_ANOTHER):
                continue
            tried += 1
            for value in (end, end + outside * max(1e-6, 1e-6 * abs(end))):
                changed = copy.deepcopy(document)
                place = changed
                for step in re.findall(r"\w+", name):
                    place = place[int(step) if step.isdigit() else step]
                place["value"] = value
                try:
                    _core.resin_limits(json.dumps(changed), "x")
                    core = True
                except libcure.CureError as error:
                    core = error.field != f"{name}.value"
                assert accepted_by_schema(changed) == core, (name, value)
    assert tried > 20
