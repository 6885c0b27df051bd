"""Makes the records' vectors again by the program beside them, and compares every file with what is kept."""

import shutil
import subprocess
import sys
import tempfile
from pathlib import Path

KEPT = Path(__file__).resolve().parents[2] / "app/record/tests/vectors"


def vectors(folder):
    return {path.name: path.read_bytes() for path in folder.glob("*.json")}


def main():
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        maker = shutil.copy(KEPT / "make.py", folder)
        subprocess.run([sys.executable, maker], cwd=folder, check=True)
        kept, made = vectors(KEPT), vectors(folder)
    if not kept:
        sys.exit(f"no vector is kept in {KEPT}")
    other = sorted(name for name in kept.keys() | made.keys() if kept.get(name) != made.get(name))
    if other:
        sys.exit(f"these vectors are not what make.py makes: {', '.join(other)}")
    print(f"{len(kept)} vectors are what make.py makes")


main()
