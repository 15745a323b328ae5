"""``python -m xlcalc`` is the command ``xlcalc``."""

from xlcalc.cli import main

main()
