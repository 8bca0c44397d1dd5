"""``python -m candlelab`` is the command ``candlelab``."""

from candlelab.cli.main import main

if __name__ == "__main__":
    main()
