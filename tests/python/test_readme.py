"""What README.md and its guide show is run or compiled elsewhere, and what they point at exists."""

import importlib
import os
import re
import subprocess
import sys
from pathlib import Path

import pytest

import libcure

ROOT = Path(__file__).parents[2]
DOCUMENTS = ["README.md", "DEVELOPERS.md", "CHANGELOG.md", "notebooks/guide.md"]
README = (ROOT / "README.md").read_text(encoding="utf-8")
GUIDE = (ROOT / "notebooks/guide.md").read_text(encoding="utf-8")


def blocks(language, text=GUIDE):
    return re.findall(rf"^```{language}\n(.*?)^```$", text, re.MULTILINE | re.DOTALL)


def test_python_blocks_run_one_after_the_other(monkeypatch, capsys):
    monkeypatch.chdir(ROOT)
    names, printed = {}, []
    for source in blocks("python"):
        exec(compile(source, "README.md", "exec"), names)
        printed.append(capsys.readouterr().out)
    lines, percentiles = printed[1].splitlines(), printed[2]
    status, release = lines[0].split()
    assert status in ("ok", "wait") and float(release) > 0.0
    assert all(line == "None" or float(line) > 0.0 for line in lines[-4:])
    low, middle, high = re.findall(r"[\d.]+", percentiles)[:3]
    assert 0.0 < float(low) < float(middle) < float(high)


def test_readme_is_one_screen_and_its_blocks_run(monkeypatch, capsys):
    monkeypatch.chdir(ROOT)
    assert len(README.splitlines()) <= 100
    (source,) = blocks("python", README)
    exec(compile(source, "README.md", "exec"), {})
    status, release = capsys.readouterr().out.splitlines()[0].split()
    assert status in ("ok", "wait") and float(release) > 0.0
    (program,) = blocks("cpp", README)
    assert program == (ROOT / "tests/packaging/quick.cpp").read_text(encoding="utf-8")


def test_cpp_block_is_the_program_that_the_packaging_test_builds_and_runs():
    (source,) = blocks("cpp")
    assert source == (ROOT / "tests/packaging/consumer.cpp").read_text(encoding="utf-8")


def test_cmake_block_is_in_the_packaging_test():
    (source,) = blocks("cmake")
    used = (ROOT / "tests/packaging/CMakeLists.txt").read_text(encoding="utf-8").splitlines()
    assert set(source.splitlines()) <= set(used)


def test_the_two_commands():
    section = README.partition("## Two commands\n")[2].partition("\n## ")[0]
    commands = re.findall(r"^    (bindings/libcure\.sh predict \S+|tests/run\.sh)", section, re.MULTILINE)
    assert len(commands) == 2
    for command in commands:
        program, *arguments = command.split()
        assert os.access(ROOT / program, os.X_OK)
        for argument in arguments[1:]:
            assert (ROOT / argument).is_file()


def test_the_commands_that_change_a_case_run(tmp_path):
    commands = re.findall(r"^    bindings/libcure\.sh (.* --set .*)$", GUIDE, re.MULTILINE)
    assert len(commands) == 2
    for command in commands:
        arguments = [str(ROOT / a) if (ROOT / a).is_file() else a for a in command.split()]
        done = subprocess.run([sys.executable, "-m", "libcure", *arguments], cwd=tmp_path, capture_output=True, text=True)
        assert done.returncode == 0, done.stderr
    assert (tmp_path / "job.json").is_file()


@pytest.mark.parametrize("name", DOCUMENTS)
def test_everything_pointed_at_exists(name):
    text = (ROOT / name).read_text(encoding="utf-8")
    linked = re.findall(r"\]\(([^)#:]+)\)", re.sub(r"`[^`\n]+`(?!\])", "", text))  # a lambda is no link
    quoted = re.findall(r"`((?:libcure|bindings|models|validation|tests|notebooks)/[\w./-]+)", text)
    quoted = [path for path in quoted if not re.fullmatch(r"libcure/[\w-]+/\d+", path)]  # names of document formats
    beside = (ROOT / name).parent
    missing = [path for path in linked if not (beside / path).exists()] + [path for path in quoted if not (ROOT / path).exists()]
    assert missing == []


def test_the_site_has_every_public_name_of_python():
    reference = (ROOT / "notebooks/site/python.rst").read_text(encoding="utf-8")
    named = set(re.findall(r"^\.\. auto(?:function|class|exception):: libcure\.(\w+)$", reference, re.MULTILINE))
    for module in re.findall(r"^\.\. automodule:: libcure\.(\S+)$", reference, re.MULTILINE):
        named |= {module, *importlib.import_module(f"libcure.{module}").__all__}
    assert set(libcure.__all__) - {"__version__"} <= named
