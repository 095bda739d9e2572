"""``python -m libcure`` is the ``libcure`` command."""

from libcure.cli import main

if __name__ == "__main__":
    main()
