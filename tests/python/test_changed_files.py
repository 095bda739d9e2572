"""Whatever is changed in a shipped file: one clear refusal, or a whole answer that fits its schema."""

import copy
import io
import json

from hypothesis import given, settings
from hypothesis import strategies as st
from rich.console import Console

import libcure
import libcure.charting
from libcure.documents import models_folder
from libcure.render.verdict_view import VerdictView

MODELS = models_folder()
CASES = [json.loads(path.read_text()) for path in sorted((MODELS / "cases").glob("*.json"))]
COLD = libcure.load_case(MODELS / "cases" / "cold_ground_winter.json")
CHARTS = [json.loads(path.read_text()) for path in sorted((MODELS / "charts").glob("*.json"))]
RESINS = [json.loads(path.read_text()) for path in sorted((MODELS / "resins").glob("*.json"))]

many = settings(max_examples=60, deadline=None, derandomize=True)

ANYTHING = st.one_of(
    st.sampled_from([0, -0.0, 1, -1, 1e-300, 1e300, "", "natural", "liner", "x" * 300, "../x", "\0", "°", None, True, [], {}]),
    st.lists(st.lists(st.floats(-50, 500), min_size=2, max_size=2), max_size=3),
    st.floats(-50, 500),
)
FACTORS = st.sampled_from([0.0, 0.1, 0.5, 0.9, 1.1, 2.0, 10.0, -1.0])


def places(node, path=()):
    """Paths of everything in a document."""
    items = node.items() if isinstance(node, dict) else enumerate(node) if isinstance(node, list) else ()
    for key, value in items:
        yield (*path, key)
        yield from places(value, (*path, key))


@st.composite
def changed(draw, documents):
    """A document with one to three changes: something left out, multiplied, or anything in its place."""
    document = copy.deepcopy(draw(st.sampled_from(documents)))
    for _ in range(draw(st.integers(1, 3))):
        *above, last = draw(st.sampled_from(list(places(document))))
        node = document
        for key in above:
            node = node[key]
        number = isinstance(node[last], (int, float)) and not isinstance(node[last], bool)
        kind = draw(st.sampled_from(["multiply"] * 5 * number + ["replace", "delete"]))
        if kind == "delete":
            del node[last]
        elif kind == "multiply":
            node[last] *= draw(FACTORS)
        else:
            node[last] = draw(ANYTHING)
        if not document:
            break
    return document


def assert_clear(error):
    text = str(error)
    assert text.isprintable()
    assert len(text) < 3000
    assert getattr(error, "allowed", "")  # an error of the solver names no field


def assert_answers(case):
    """Predicts: refused in one line, or a whole answer without a number that is none."""
    try:
        result = libcure.predict(case, numerical_error=False, samples=64)
    except libcure.CureError as error:
        assert_clear(error)
        return
    document = result.verdict
    json.dumps(document, allow_nan=False)
    libcure.validate(document)
    console = Console(width=90, file=io.StringIO())
    console.print(VerdictView(result))
    assert not {"nan", "inf", "-inf"} & set(console.file.getvalue().lower().split())


@many
@given(changed(CASES))
def test_a_case(document):
    try:
        case = libcure.Case.from_dict(document)
    except libcure.CureError as error:
        assert_clear(error)
        return
    libcure.validate(document)  # what the reader takes, the schema takes
    assert_answers(case)


def taken(read, document, path):
    """Whether a file of the document is read, or refused in one line that names it."""
    path.write_text(json.dumps(document))
    try:
        read(path)
    except libcure.CureError as error:
        assert_clear(error)
        assert str(path) in str(error)
        return False
    return True


@many
@given(document=changed(RESINS))
def test_a_resin(document, tmp_path_factory):
    path = tmp_path_factory.getbasetemp() / "resin.json"
    if taken(libcure.models.read_resin, document, path):
        assert_answers(COLD.replace({"resin": str(path)}))


@many
@given(document=changed(CHARTS))
def test_a_chart(document, tmp_path_factory):
    taken(libcure.charting.read_chart, document, tmp_path_factory.getbasetemp() / "chart.json")
