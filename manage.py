#!/usr/bin/env python3
"""Command line of Landscape Care.

`python3 manage.py start` runs everything; `python3 manage.py pytest` runs the tests.
The first run prepares the folder `.venv`; later runs only look whether it still fits.
"""

import os
import sys

from landscape_care.config.environment import enter_environment, run_tests


def main() -> None:
    """Enter the Python environment of this folder, then run the command that was asked for."""
    command = sys.argv[1] if len(sys.argv) > 1 else "help"
    enter_environment(command)
    if command == "pytest":
        sys.exit(run_tests(sys.argv[2:]))
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "landscape_care.config.settings")
    from django.core.exceptions import ImproperlyConfigured
    from django.core.management import execute_from_command_line

    try:
        execute_from_command_line(sys.argv)
    except ImproperlyConfigured as wrong:
        sys.exit(str(wrong))


if __name__ == "__main__":
    main()
