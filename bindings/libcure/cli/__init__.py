"""The ``libcure`` command: `menu` has the commands and their options, one module each does what a command does."""

from libcure.cli.menu import app

__all__ = ["app"]
