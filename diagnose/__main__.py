"""`python -m diagnose`, the same as `diagnose`."""

from diagnose.cli import main

main()
