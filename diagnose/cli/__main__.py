"""`python -m diagnose.cli`."""

from diagnose.cli import main

main()
