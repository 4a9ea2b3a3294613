"""``python -m wirerun`` is the same as ``wirerun``."""

from wirerun.cli import main

if __name__ == "__main__":
    main()
