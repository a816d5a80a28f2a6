"""Run one accuracy table: `python -m tests.accuracy exchange --frames 60`; without a name, list them."""

from __future__ import annotations

import importlib
import sys
from pathlib import Path


def main() -> int:
    """Hand over to the module of that name in this folder; each has a `main(arguments)`."""
    shared = ("__", "frames", "intervals")
    names = sorted(path.stem for path in Path(__file__).parent.glob("*.py") if not path.stem.startswith(shared))
    if len(sys.argv) < 2 or sys.argv[1] not in names:
        print(f"usage: python -m tests.accuracy {{{','.join(names)}}} [options]")
        return 2
    importlib.import_module(f"tests.accuracy.{sys.argv[1]}").main(sys.argv[2:])
    return 0


if __name__ == "__main__":
    sys.exit(main())
