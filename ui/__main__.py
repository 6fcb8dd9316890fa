"""``python -m ui``."""

import sys

from ui.command_line import main

sys.exit(main())
