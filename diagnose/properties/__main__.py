"""``python -m diagnose.properties build``: writes the generated table from CoolProp."""

from __future__ import annotations

import argparse
from importlib.util import find_spec

from diagnose.properties import table


def main(arguments: list[str] | None = None) -> None:
    """Writes it; leaves with 2 without CoolProp."""
    parser = argparse.ArgumentParser(prog="python -m diagnose.properties", description=__doc__)
    parser.add_argument("command", choices=["build"])
    parser.parse_args(arguments)
    if find_spec("CoolProp") is None:
        parser.exit(2, 'CoolProp is not installed, which this needs: pip install -e ".[dev]" brings it.\n')
    print(f"wrote saturation.json: {table.write()} bytes")


if __name__ == "__main__":
    main()
