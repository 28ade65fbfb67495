"""`python -m trainer`: the same as the command `trainer`."""

import sys

from trainer.cli import main

sys.exit(main())
