#!/usr/bin/env python3
"""Django's command line for this project; run it from the project's root."""

import os
import sys


def main() -> None:
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "shopdocs.settings")
    from django.core.management import execute_from_command_line

    from shopdocs.environment import BadSetting

    try:
        execute_from_command_line(sys.argv)
    except BadSetting as error:
        sys.exit(str(error))


if __name__ == "__main__":
    main()
