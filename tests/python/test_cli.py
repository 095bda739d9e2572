"""The libcure command, as a user meets it."""

import json
import os
import re
import subprocess
import sys
from pathlib import Path

import pytest
from forked_command import OF_A_TERMINAL

import libcure
import libcure.cli
from libcure.words.rounding import duration

CASES = Path(__file__).parents[2] / "models" / "cases"
COLD, HOT = CASES / "cold_ground_winter.json", CASES / "hot_packer_summer.json"
ESCAPES = re.compile(r"\x1b\[[0-9;]*m")


def run(*arguments, code=0, text=True, **environment):
    variables = {k: v for k, v in os.environ.items() if k not in OF_A_TERMINAL}
    done = subprocess.run(
        [sys.executable, "-m", "libcure", *map(str, arguments)], capture_output=True, text=text, timeout=120,
        env={**variables, "COLUMNS": "80", **environment},
    )
    assert done.returncode == code, done.stderr
    return done


def test_one_that_is_quiet_leaves_the_next_of_its_process_as_it_is(monkeypatch, capsys):
    monkeypatch.setattr(sys, "argv", ["libcure", "--quiet", "check", str(COLD)])
    with pytest.raises(SystemExit):
        libcure.cli.main()
    assert not capsys.readouterr().out
    monkeypatch.setattr(sys, "argv", ["libcure", "check", str(COLD)])
    libcure.cli.main()
    assert capsys.readouterr().out


def test_version():
    assert run("--version").stdout == f"libcure {libcure.__version__}\n"


@pytest.mark.parametrize(
    ("arguments", "needed"), [(["predict", COLD], set()), (["check", COLD], {"jsonschema"}), (["predict", COLD, "--uncertain", "none"], {"typer"})],
    ids=["predict", "check", "an option"],
)  # fmt: skip
def test_start_up_loads_only_what_the_answer_needs(arguments, needed):
    # An option is read by typer, which may bring more of its own.
    heavy = {"numpy", "jinja2", "matplotlib", "pandas", "scipy"} | (set() if "typer" in needed else {"typer", "pydantic", "jsonschema", "concurrent.futures"})
    if not needed:
        heavy |= {"rich"}
    script = (
        "import atexit, sys, libcure.cli\n"
        f"atexit.register(lambda: print(*{heavy | needed} & sys.modules.keys(), file=sys.stderr))\nlibcure.cli.main()"
    )
    done = subprocess.run([sys.executable, "-c", script, *map(str, arguments)], capture_output=True, text=True, timeout=120, check=True)
    assert set(done.stderr.split()) == needed


@pytest.mark.parametrize("arguments", [["predict", COLD], ["check", COLD], ["predict", "missing.json"], ["check", "missing.json"]], ids=str)
def test_the_menu_says_the_same(arguments):
    # Alone a file is answered without the menu; `--` changes nothing but the way.
    code = 2 if "missing.json" in arguments else 0
    plain, menu = run(*arguments, code=code), run(arguments[0], "--", arguments[1], code=code)
    assert (plain.stdout, plain.stderr) == (menu.stdout, menu.stderr)


@pytest.mark.parametrize("case", [COLD, HOT], ids=lambda p: p.stem)
@pytest.mark.parametrize("columns", [60, 80, 120])
def test_verdict_fits_the_terminal(case, columns):
    done = run("predict", case, COLUMNS=str(columns))
    assert done.stderr == ""
    lines = done.stdout.splitlines()
    assert max(map(len, lines)) <= min(columns, 110)
    assert "…" not in done.stdout  # nothing was cut off
    for name in ("Working time ends", "IN PLACE BY", "First gel", "Last gel", "BLADDER OUT", "Return to service"):
        assert name in done.stdout


def test_verdict_says_what_the_json_says(tmp_path):
    done = run("predict", COLD, "--json", tmp_path / "v.json")
    verdict = json.loads((tmp_path / "v.json").read_text(encoding="utf-8"))
    assert verdict.pop("case") == libcure.load_case(COLD).document
    made = verdict.pop("made")
    assert made["libcure"] == libcure.__version__ and re.fullmatch(r"\d{4}-\d\d-\d\dT[\d:]{8}\+00:00", made["time"])
    assert verdict == libcure.predict(COLD).verdict
    words = " ".join(done.stdout.split())
    assert duration(verdict["answer"]["release_min"], up=True) in words
    for said in verdict["answer"]["reasons"]:
        assert said["text"] in words
    assert len(list(tmp_path.iterdir())) == 1


def test_json_to_standard_output():
    done = run("predict", COLD, "--json", "-")
    predicted = libcure.predict(COLD)
    assert {**json.loads(done.stdout), **predicted.verdict} == json.loads(done.stdout)


def test_case_from_standard_input():
    with COLD.open("rb") as file:
        done = subprocess.run([sys.executable, "-m", "libcure", "predict", "-", "--json", "-"], stdin=file,
                              capture_output=True, timeout=120, check=True)
    predicted = libcure.predict(COLD)
    assert {**json.loads(done.stdout), **predicted.verdict} == json.loads(done.stdout)


def test_byte_order_mark_is_no_matter(tmp_path):
    path = tmp_path / "case.json"
    path.write_bytes(b"\xef\xbb\xbf" + COLD.read_bytes())
    run("check", path)


@pytest.mark.parametrize("suffix", ["png", "svg", "pdf", "PNG"])
def test_plot(tmp_path, suffix):
    path = tmp_path / f"plot.{suffix}"
    run("predict", COLD, "--plot", path)
    start = {"png": b"\x89PNG", "svg": b"<?xml", "pdf": b"%PDF"}[suffix.lower()]
    assert path.read_bytes().startswith(start)
    assert list(tmp_path.iterdir()) == [path]


def test_outputs_follow_links_and_umask(tmp_path):
    (tmp_path / "real.json").write_text("old")
    (tmp_path / "link.json").symlink_to("real.json")
    run("predict", COLD, "--json", tmp_path / "link.json")
    assert (tmp_path / "link.json").is_symlink()
    assert json.loads((tmp_path / "real.json").read_text(encoding="utf-8"))["format"] == "libcure/verdict/1"
    umask = os.umask(0)
    os.umask(umask)
    assert (tmp_path / "real.json").stat().st_mode & 0o777 == 0o666 & ~umask


@pytest.mark.parametrize("arguments", [("predict", COLD), ("predict", HOT), ("models",), ("check", COLD)])
def test_terminal_without_unicode(arguments):
    done = run(*arguments, PYTHONIOENCODING="ascii", PYTHONUTF8="0", text=False)
    done.stdout.decode("ascii")
    assert b"Traceback" not in done.stderr


def test_words_for_a_terminal_without_unicode():
    done = run("predict", COLD, PYTHONIOENCODING="ascii", PYTHONUTF8="0")
    assert "?" not in done.stdout.replace("wall at 4 ?C", "")


def test_colours_only_where_wanted():
    assert "\x1b" not in run("predict", HOT).stdout
    colour = run("predict", HOT, FORCE_COLOR="1", TERM="xterm-256color").stdout
    assert re.search(r"\x1b\[[0-9;]*31m", colour)  # red
    assert not re.search(r"\x1b\[[0-9;]*32m", colour)  # no green in a job that must not be done
    plain = run("predict", HOT, FORCE_COLOR="1", TERM="xterm-256color", NO_COLOR="1").stdout
    assert not re.search(r"\x1b\[[0-9;]*3[0-9]m", plain)
    assert ESCAPES.sub("", colour) == ESCAPES.sub("", plain)


def test_titles_are_not_markup(tmp_path):
    path = tmp_path / "case.json"
    document = json.loads(COLD.read_text(encoding="utf-8"))
    document["title"] = "[red]5 $ & [link=x]6 $[/red]"
    path.write_text(json.dumps(document))
    done = run("predict", path, "--plot", tmp_path / "plot.png")
    assert document["title"] in done.stdout


def test_check():
    done = run("check", COLD)
    assert done.stdout.startswith(f"{COLD}: valid: ")
    for folder, name in (("resins", "epoxy-amine-fast"), ("materials", "pvc"), ("grounds", "moist-sand")):
        assert ": valid: " in run("check", CASES.parent / folder / f"{name}.json").stdout


def test_check_of_another_format(tmp_path):
    path = tmp_path / "x.json"
    path.write_text('{"format": "libcure/surprise/1"}')
    assert 'allowed: "libcure/case/1"' in run("check", path, code=2).stderr


def test_models():
    done = run("models")
    for path in (CASES.parent / "resins").glob("*.json"):
        document = json.loads(path.read_text(encoding="utf-8"))
        assert path.stem in done.stdout
        assert document["title"] in " ".join(done.stdout.split())
    assert re.search(r"epoxy-amine-fast +ESTIMATED constants, valid -?\d+ to \d+ °C", done.stdout)
    assert "rate constants: own estimate, riccardi1984" in done.stdout
    assert "moist-sand" in done.stdout
    assert "natural-rubber" in done.stdout


@pytest.mark.parametrize("suffix", ["png", "svg", "pdf"])
def test_a_model_is_described_and_drawn(tmp_path, suffix):
    target = tmp_path / f"curves.{suffix}"
    done = run("models", "epoxy-amine-slow", "--plot", target, "--temperatures", "0,12.5,30")
    for word in ("ESTIMATED", "rate.k1.E", "kcal/mol", "riccardi1984", "assumption"):
        assert word in done.stdout
    assert target.stat().st_size > 5000


def test_a_model_that_is_not_there_or_a_bad_temperature_is_one_line(tmp_path):
    for arguments in (
        ("models", "no-such-resin"),
        ("models", "epoxy-amine-slow", "--plot", tmp_path / "x.png", "--temperatures", "5,warm"),
        ("models", "epoxy-amine-slow", "--plot", tmp_path / "x.gif"),
        ("models", "--plot", tmp_path / "x.png"),
    ):
        done = run(*arguments, code=2)
        assert done.stdout == "" and len(done.stderr.splitlines()) == 1 and "Traceback" not in done.stderr
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize("name", libcure.models.ids("resins"))
def test_every_model_can_be_drawn(name):
    from libcure.render import model_view

    assert len(model_view.draw(name).axes) == 4


def test_selftest():
    done = subprocess.run([sys.executable, "-m", "libcure.selftest"], capture_output=True, text=True, timeout=120)
    assert done.returncode == 0, done.stdout
    assert "FAILED" not in done.stdout
    assert done.stdout.count("\nok ") >= 4


def test_broken_installation_gives_a_hint(tmp_path):
    package = tmp_path / "libcure"
    package.mkdir()
    for name in ("__init__.py", "interrupt.py"):
        (package / name).write_bytes(Path(libcure.__file__).with_name(name).read_bytes())
    done = subprocess.run([sys.executable, "-c", "import libcure"], capture_output=True, text=True, cwd=tmp_path,
                          timeout=120, env={**os.environ, "PYTHONPATH": str(tmp_path)})
    assert done.returncode == 1
    assert "bindings/setup.sh" in done.stderr


def test_the_exit_code_tells_the_answer_where_it_was_asked_for():
    for case, changes, status, code in ((COLD, (), "ok", 0), (HOT, (), "stop", 4), (COLD, ("--set", "stages.held.duration_min=100"), "wait", 3)):
        arguments = ("predict", case, *changes, "--json", "-")
        done = run(*arguments, "--exit-code", code=code)
        assert json.loads(done.stdout)["answer"]["status"] == status
        assert done.stderr == ""
        assert json.loads(run(*arguments).stdout)["answer"] == json.loads(done.stdout)["answer"]
    words = " ".join(run("predict", "--help", COLUMNS="300").stdout.replace("│", " ").split())
    assert "0 ok, 3 wait (it works with what is said beside it), 4 stop. Always: 2 bad input, 130 Ctrl-C." in words
    run("predict", COLD, "--set", "resin=nobody", "--exit-code", code=2)


def test_a_resin_that_is_not_there_has_a_neighbour():
    assert 'did you mean "epoxy-amine-slow"?' in run("models", "epoxy-slow", code=2).stderr


def test_each_command_gives_an_example_that_it_takes():
    """Of options that are there; and the shell can complete them."""
    from typer.main import get_command

    from libcure.cli.menu import app

    commands = get_command(app).commands  # type: ignore[attr-defined]
    for name, command in commands.items():
        words = command.epilog.removeprefix("Example: ").split()
        assert words[:2] == ["libcure", name]
        known = {option for parameter in command.params for option in parameter.opts}
        assert {word for word in words if word.startswith("--")} <= known
    assert "--install-completion" in run("--help").stdout
