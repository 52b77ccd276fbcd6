#!/usr/bin/env python3
"""The club's command line: `demo` and `test` make their own environment, every other command uses it.

This file keeps to what every Python 3 can read, so that an old one is told what is wrong in words.
"""

import os
import sys

OLDEST_PYTHON = (3, 11)


def main() -> int:
    if sys.version_info < OLDEST_PYTHON:
        found = ".".join(str(part) for part in sys.version_info[:3])
        sys.stderr.write(
            "This needs Python 3.11 or newer and was started with Python "
            + found
            + "; start it with a newer one, for example: python3.11 manage.py "
            + " ".join(sys.argv[1:])
            + "\n"
        )
        return 1
    # Only a new enough Python can read the next file.
    from clubops.bootstrap import command  # noqa: PLC0415

    return command.main(os.path.dirname(os.path.abspath(__file__)), sys.argv)


if __name__ == "__main__":
    sys.exit(main())
