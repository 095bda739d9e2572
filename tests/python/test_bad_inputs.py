"""Bad input, end to end: one line on stderr, exit code 2, no traceback, no file left behind.

The corpus is in bad_cases/; bad_cases.json says for each file which field the error names, words it
has, and whether the JSON Schema can see the mistake too.
"""

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest
from typer.testing import CliRunner

import libcure
from libcure.cli import app

HERE = Path(__file__).parent
CASES = HERE.parents[1] / "models" / "cases"
GOOD = CASES / "cold_ground_winter.json"
SEASONAL = CASES.parent / "charts" / "seasonal.json"
EXPECTED = json.loads((HERE / "bad_cases.json").read_text())


def run(*arguments, **options):
    """The command in a process of its own, as a user has it."""
    return subprocess.run(
        [sys.executable, "-m", "libcure", *map(str, arguments)], capture_output=True, text=True, timeout=120, **options
    )


def assert_refused(done, folder, *words):
    assert done.returncode == 2
    assert done.stdout == ""
    assert done.stderr.startswith("libcure: ")
    assert done.stderr.count("\n") == 1
    assert done.stderr.endswith("\n")
    assert "Traceback" not in done.stderr
    for word in words:
        assert word in done.stderr
    assert list(folder.iterdir()) == []


def test_corpus_is_complete():
    assert sorted(EXPECTED) == sorted(p.stem for p in (HERE / "bad_cases").glob("*.json"))


@pytest.mark.parametrize("name", EXPECTED)
def test_file_is_refused(name, tmp_path):
    path = HERE / "bad_cases" / f"{name}.json"
    outputs = ["--json", str(tmp_path / "verdict.json"), "--plot", str(tmp_path / "plot.png")]
    done = CliRunner().invoke(app, ["predict", str(path), *outputs])
    assert done.exit_code == 2
    assert isinstance(done.exception, SystemExit)  # nothing but the exit code came out
    assert done.stdout == ""
    assert done.stderr.startswith(f"libcure: {path}: {EXPECTED[name]['field']}: ")
    assert EXPECTED[name]["says"] in done.stderr
    assert done.stderr.count("\n") == 1
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize("name", EXPECTED)
def test_error_has_parts(name):
    path = HERE / "bad_cases" / f"{name}.json"
    with pytest.raises(libcure.CureError) as caught:
        libcure.load_case(path)
    assert isinstance(caught.value, ValueError)
    assert caught.value.field == EXPECTED[name]["field"]
    assert caught.value.file == str(path)
    assert caught.value.value
    assert caught.value.allowed


@pytest.mark.parametrize("name", [name for name, e in EXPECTED.items() if e["schema"]])
def test_schema_refuses_too(name):
    document = json.loads((HERE / "bad_cases" / f"{name}.json").read_text())
    with pytest.raises(libcure.CureError):
        libcure.validate(document)


def test_in_a_process(tmp_path):
    bad = HERE / "bad_cases" / "negative_thickness.json"
    done = run("predict", bad, "--json", tmp_path / "v.json", "--plot", tmp_path / "p.svg")
    assert_refused(done, tmp_path, str(bad), "liner.thickness_mm: -3", "0.3 to 60")


def test_missing_file(tmp_path):
    done = run("predict", "nowhere.json", "--json", tmp_path / "v.json")
    assert_refused(done, tmp_path, "nowhere.json", "cannot be read")


def test_folder_for_file(tmp_path):
    assert_refused(run("check", tmp_path), tmp_path, str(tmp_path), "cannot be read")


def test_not_utf8(tmp_path):
    path = tmp_path / "in" / "case.json"
    path.parent.mkdir()
    path.write_bytes(GOOD.read_bytes().replace("°".encode(), b"\xb0"))
    (tmp_path / "out").mkdir()
    done = run("predict", path, "--json", tmp_path / "out" / "v.json")
    assert_refused(done, tmp_path / "out", "not UTF-8")


@pytest.mark.parametrize("text", ["[" * 200_000, '{"a":' * 200_000 + "1" + "}" * 200_000, '{"resin": °}', '{"°": "°'])
def test_hostile_text(tmp_path, text):
    path = tmp_path / "in" / "case.json"
    path.parent.mkdir()
    path.write_text(text, encoding="utf-8")
    (tmp_path / "out").mkdir()
    done = run("predict", path, "--json", tmp_path / "out" / "v.json")
    assert_refused(done, tmp_path / "out", "document: ")
    assert len(done.stderr) < 1200


def test_control_letters_stay_on_one_line(tmp_path):
    document = json.loads(GOOD.read_text())
    document["two\nlines\x1b[31m"] = 1
    with pytest.raises(libcure.CureError):
        libcure.Case.from_dict(document)
    path = tmp_path / "in" / "case.json"
    path.parent.mkdir()
    path.write_text(json.dumps(document))
    (tmp_path / "out").mkdir()
    done = run("check", path)
    assert_refused(done, tmp_path / "out", r"two\nlines\x1b[31m")


@pytest.mark.parametrize(
    ("option", "name"),
    [("--json", "verdict.txt"), ("--json", "verdict"), ("--plot", "plot.jpeg"), ("--plot", "plot"),
     ("--json", "no/such/folder/verdict.json"), ("--plot", "no/such/folder/plot.png")],
)
def test_output_that_cannot_be(tmp_path, option, name):
    assert_refused(run("predict", GOOD, option, tmp_path / name), tmp_path, option, name)


@pytest.mark.parametrize(
    "arguments",
    [("predict", "{}"), ("predict", GOOD, "--json", "{}.json"), ("predict", GOOD, "--plot", "{}.png"),
     ("predict", GOOD, "--uncertain", "{}.json"), ("follow", GOOD, "{}"), ("advise", "{}"), ("check", "{}"), ("models", "{}"),
     ("chart", "{}", "--out", "."), ("chart", SEASONAL, "--out", "{}"), ("fit", "{}", "--out", "."), ("validate", "{}")],
    ids=str,
)
def test_a_name_that_no_file_can_have(tmp_path, arguments):
    """Longer than any file system of ours allows."""
    name = "x" * 300
    done = run(*[str(x).replace("{}", name) for x in arguments], cwd=tmp_path)
    assert_refused(done, tmp_path, name[:200])


@pytest.mark.parametrize("place", [("resin",), ("pipe", "material"), ("ground", "material")], ids=str)
def test_a_model_that_no_file_can_be(place):
    document = json.loads(GOOD.read_text())
    *above, last = place
    node = document
    for key in above:
        node = node[key]
    node[last] = "x" * 300
    with pytest.raises(libcure.CureError) as caught:
        libcure.Case.from_dict(document)
    assert caught.value.field == ".".join(place)


def test_output_is_a_folder(tmp_path):
    target = tmp_path / "verdict.json"
    target.mkdir()
    assert_refused(run("predict", GOOD, "--json", target), target, "an ordinary file")


def test_output_is_checked_before_the_case(tmp_path):
    assert_refused(run("predict", "nowhere.json", "--plot", tmp_path / "plot.gif"), tmp_path, "--plot", ".png")


@pytest.mark.skipif(not Path("/proc/self").is_dir(), reason="needs a file system that refuses files")
def test_file_system_refuses(tmp_path):
    done = run("predict", GOOD, "--json", "/proc/verdict.json", "--plot", tmp_path / "plot.png")
    assert_refused(done, tmp_path, "/proc/verdict.json", "written")


@pytest.mark.skipif(os.geteuid() == 0, reason="root may write anywhere")
def test_folder_without_permission(tmp_path):
    folder = tmp_path / "closed"
    folder.mkdir(mode=0o500)
    assert_refused(run("predict", GOOD, "--json", folder / "v.json"), folder, "may be written")


def test_failed_second_output_takes_the_first_with_it(tmp_path, monkeypatch):
    def fail(*_):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("libcure.render.plot.save", fail)
    arguments = ["predict", str(GOOD), "--json", str(tmp_path / "v.json"), "--plot", str(tmp_path / "p.png")]
    done = CliRunner().invoke(app, arguments)
    assert done.exit_code == 2
    assert "No space left" in done.stderr
    assert done.stderr.count("\n") == 1
    assert list(tmp_path.iterdir()) == []


def test_old_output_survives_a_failure(tmp_path, monkeypatch):
    def fail(*_):
        raise OSError(28, "No space left on device")

    old = tmp_path / "p.png"
    old.write_bytes(b"old")
    monkeypatch.setattr("libcure.render.plot.save", fail)
    assert CliRunner().invoke(app, ["predict", str(GOOD), "--plot", str(old)]).exit_code == 2
    assert old.read_bytes() == b"old"
    assert list(tmp_path.iterdir()) == [old]


def test_case_is_never_overwritten(tmp_path):
    case = tmp_path / "case.json"
    case.write_bytes(GOOD.read_bytes())
    done = run("predict", case, "--json", case)
    assert done.returncode == 2
    assert "--json" in done.stderr
    assert case.read_bytes() == GOOD.read_bytes()


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"liner.thickness_mm": float("nan")}, "liner.thickness_mm: nan; allowed: a finite number"),
        ({"liner.thickness_mm": float("inf")}, "liner.thickness_mm: inf"),
        ({"stages[9].duration_min": 1}, "stages[9].duration_min: no element [9]"),
        ({"stages.duration_min": 1}, 'stages.duration_min: no "duration_min"'),
        ({"liner..thickness_mm": 1}, "liner..thickness_mm: not a path"),
        ({"": 1}, "not a path"),
        ({"liner.thicknes_mm": 1}, 'did you mean "thickness_mm"'),
        ({"title": {1, 2}}, "title: a Python set"),
        ({"title": "\ud800"}, "not JSON"),
        ({"pipe": {1: 2}}, "pipe: the key 1"),
    ],
)
def test_replace_refuses(changes, words):
    with pytest.raises(libcure.CureError) as caught:
        libcure.load_case(GOOD).replace(changes)
    assert words in str(caught.value)


@pytest.mark.parametrize(("changes", "says"), [
    ({"resin": "q" * 3000 + "\n\0z"}, 'resin: "qqq'), ({"resin": "a\n\0b"}, "a\\n\\x00b"), ({"k" * 5000: 1}, "..."), ({"resin": "ü" * 400}, "ü..."),
])  # fmt: skip
def test_what_a_document_holds_cannot_flood_a_message(changes, says, tmp_path):
    document = {**json.loads(GOOD.read_text()), **changes}
    with pytest.raises(libcure.CureError) as told:
        libcure.predict(document)
    text = str(told.value)
    assert says in text and len(text) < 2500 and text.isprintable()


def test_a_file_that_is_no_model_is_not_quoted(tmp_path):
    """Whoever may send a case must not read files of whoever runs it."""
    secret = tmp_path / "secret.json"
    secret.write_text("zanzibar 1 2 3")
    for named in ({"resin": str(secret)}, {"pipe": {"inner_diameter_mm": 100, "wall_mm": 4, "material": str(secret)}}):
        with pytest.raises(libcure.CureError, match="not JSON") as told:
            libcure.predict({**json.loads(GOOD.read_text()), **named})
        assert "z" not in str(told.value).replace("secret.json", "")


def test_a_very_long_list_is_refused_like_a_short_one(tmp_path):
    """Reading takes time with its length, not with the square of it: this one used to take a quarter of a minute."""
    document = json.loads(GOOD.read_text())
    document["stages"] = document["stages"][:1] * 150_000
    assert_refused(run("predict", "-", input=json.dumps(document)), tmp_path, "stages: 150000; allowed: 1 to 32")


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="no full disk to write to")
def test_output_that_cannot_be_written_is_one_line():
    with open("/dev/full", "w") as full:
        done = subprocess.run([sys.executable, "-m", "libcure", "predict", str(GOOD)], stdout=full, stderr=subprocess.PIPE, text=True, timeout=120)
    assert done.returncode == 2
    assert done.stderr.startswith("libcure: standard output cannot be written") and done.stderr.count("\n") == 1


def test_a_reader_that_has_gone_ends_the_command_in_silence():
    read, write = os.pipe()
    os.close(read)
    done = subprocess.run([sys.executable, "-m", "libcure", "predict", str(GOOD)], stdout=write, stderr=subprocess.PIPE, text=True, timeout=120)
    os.close(write)
    assert (done.returncode, done.stderr) == (1, "")
