"""The ``libcure`` command in a process of its own that starts with what this one has imported: of a command that is asked a
hundred times, starting is most of the time. test_cli.py and test_stop.py start it as a user does."""

import os
import runpy
import signal
import subprocess
import sys
import tempfile
import traceback
import warnings

OF_A_TERMINAL = ("NO_COLOR", "FORCE_COLOR", "COLUMNS", "TERM")
TIMEOUT_S = 120


def run(*arguments, code=0, text=True, stdin="", **environment):
    """Asks for an exit code, unless it is None.

    Returns:
        A ``subprocess.CompletedProcess`` with what the command said.
    """
    with tempfile.TemporaryFile() as asked, tempfile.TemporaryFile() as said, tempfile.TemporaryFile() as refused:
        asked.write(stdin.encode())
        asked.seek(0)
        child = os.fork()
        if child == 0:
            _command([str(a) for a in arguments], [asked, said, refused], environment)
        _, status = os.waitpid(child, 0)
        texts = []
        for file in (said, refused):
            file.seek(0)
            texts.append(file.read().decode() if text else file.read())
    done = subprocess.CompletedProcess(arguments, os.waitstatus_to_exitcode(status), *texts)
    assert code is None or done.returncode == code, done.stderr
    return done


def _command(arguments, files, environment):
    """Never returns; nothing of pytest's runs in this process."""
    code = 1
    try:
        for at, file in enumerate(files):
            os.dup2(file.fileno(), at)
        signal.alarm(TIMEOUT_S)
        signal.signal(signal.SIGINT, signal.default_int_handler)
        encoding = environment.get("PYTHONIOENCODING", "utf-8")
        sys.stdin, sys.stdout, sys.stderr = (os.fdopen(at, mode, encoding=encoding, closefd=False) for at, mode in enumerate("rww"))
        for name in OF_A_TERMINAL:
            os.environ.pop(name, None)
        os.environ.update({"COLUMNS": "80", **environment})
        warnings.resetwarnings()
        sys.argv = ["libcure", *arguments]
        runpy.run_module("libcure", run_name="__main__", alter_sys=True)
        code = 0
    except SystemExit as end:
        code = end.code if isinstance(end.code, int) else 0 if end.code is None else 1
    except BaseException:
        traceback.print_exc()
    finally:
        sys.stdout.flush()
        sys.stderr.flush()
        os._exit(code)
