"""``python -m diagnose.properties build|compare``: write the generated table, or measure it against CoolProp."""

from __future__ import annotations

import argparse
from importlib.util import find_spec

from diagnose.properties import table


def main(arguments: list[str] | None = None) -> int:
    """Run one of the two commands; 0 when fine, 1 when the table is further than 0.02 K from CoolProp."""
    parser = argparse.ArgumentParser(prog="python -m diagnose.properties", description=__doc__)
    parser.add_argument("command", choices=["build", "compare"])
    asked = parser.parse_args(arguments).command
    if find_spec("CoolProp") is None:
        parser.exit(2, 'CoolProp is not installed, which this needs: pip install -e ".[dev]" brings it.\n')
    if asked == "build":
        print(f"wrote saturation.json: {table.write()} bytes")
        return 0
    worst = table.compare()
    columns = ("dew", "bubble", "density", "liquid h", "h", "s", "gas density", "work")
    print(f"{'':9}" + "".join(f"{column:>12}" for column in columns))
    for name, found in worst.items():
        print(f"{name:9}" + "".join(f"{found[column]:12.2g}" for column in columns))
    print("dew, bubble K; density, gas density, work (isentropic) as fractions; liquid h, h J/kg; s J/(kg K)")
    return 1 if max(max(found["dew"], found["bubble"]) for found in worst.values()) > 0.02 else 0


if __name__ == "__main__":
    raise SystemExit(main())
