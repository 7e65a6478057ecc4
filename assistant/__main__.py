"""``python -m assistant``: the same as the command ``tray-turns``."""

import sys

from assistant.cli import main

sys.exit(main())
