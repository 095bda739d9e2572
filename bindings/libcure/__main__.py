"""``python -m libcure`` is the ``libcure`` command."""

from libcure.cli import app

if __name__ == "__main__":
    app(prog_name="libcure")
