#!/usr/bin/env python
"""The command line of the register: `demo`, `verify`, `migrate` and the rest."""

import os
import sys


def main() -> None:
    """Run the command named on the command line under the one settings file."""
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "fleet.config.settings")
    from django.core.management import execute_from_command_line

    execute_from_command_line(sys.argv)


if __name__ == "__main__":
    main()
