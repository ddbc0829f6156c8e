"""`python -m tests.reference --write` works out the reference runs and writes them down (some minutes)."""

import argparse

from tests.reference.table import FILE, write

parser = argparse.ArgumentParser(prog="python -m tests.reference", description=__doc__)
parser.add_argument("--write", action="store_true", help=f"write {FILE.name} afresh")
if parser.parse_args().write:
    write()
else:
    parser.print_help()
