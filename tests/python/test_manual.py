"""The manual page says what --help says; --quiet keeps pages away and nothing else."""

import json
from pathlib import Path

import pytest
from typer.testing import CliRunner

from libcure.cli import app, manual

ROOT = Path(__file__).parents[2]
COLD = ROOT / "models" / "cases" / "cold_ground_winter.json"
PAGE = ROOT / "bindings" / "man" / "libcure.1"


def run(*arguments):
    return CliRunner().invoke(app, [str(a) for a in arguments])


def test_the_page_is_as_the_command_is():
    assert PAGE.read_text(encoding="utf-8") == manual.page(), f"python -m libcure.cli.manual --write {PAGE.relative_to(ROOT)}"


def test_each_command_and_each_exit_code_is_in_it():
    text = PAGE.read_text(encoding="utf-8")
    commands = [line.split()[1] for line in text.splitlines() if line.startswith(".SS ")]
    assert {"predict", "job", "advise", "follow", "record", "chart", "check", "fit", "study"} <= set(commands)
    assert all(run(name, "--help").exit_code == 0 for name in commands)
    ends = text.partition(".SH EXIT STATUS")[2].partition(".SH")[0].split(".TP\n")[1:]
    assert [end.split("\n")[0] for end in ends] == ["0", "1", "2", "3", "4", "130"]


@pytest.mark.parametrize("command", [["predict", COLD], ["check", COLD], ["models"]])
def test_quiet_prints_no_page(command, tmp_path):
    loud, quiet = run(*command), run("--quiet", *command)
    assert loud.exit_code == quiet.exit_code == 0
    assert len(loud.stdout) > 100 and quiet.stdout == ""
    assert run(*command).stdout == loud.stdout  # the next one speaks again


def test_quiet_keeps_json_files_exit_codes_and_errors(tmp_path):
    out = tmp_path / "v.json"
    done = run("--quiet", "predict", COLD, "--json", out, "--exit-code", "--set", "initial_temperature_C.resin=45")
    assert done.exit_code == 4 and done.stdout == "" and json.loads(out.read_text())["answer"]["status"] == "stop"
    assert json.loads(run("--quiet", "predict", COLD, "--json", "-").stdout)["answer"]["status"] in ("ok", "wait")
    bad = run("--quiet", "predict", tmp_path / "none.json")
    assert bad.exit_code == 2 and bad.stderr.startswith("libcure: ") and bad.stdout == ""
    asked = run("--quiet", "job", "--ask")
    assert asked.exit_code == 2 and "--quiet" in asked.stderr
