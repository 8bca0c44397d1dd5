"""One example for each command, which ``-h`` shows."""

EXAMPLES = {
    "new": "candlelab new tumbler",
    "plan": "candlelab plan plan.toml --out next-batch",
    "candles": "candlelab candles --difference 0.5 --affordable 3",
    "check": "candlelab check candlelab-demo/screening",
    "bench": "candlelab bench next-batch --phone",
    "today": "candlelab today candlelab-demo/kitchen",
    "report": "candlelab report candlelab-demo/screening --out screening-report",
    "compare": "candlelab compare candlelab-demo/screening --by wick --metric wall_max_c",
    "size": "candlelab size candlelab-demo/screening",
    "scent": "candlelab scent candlelab-demo/loads",
    "confirm": "candlelab confirm candlelab-demo/screening candlelab-demo/confirmation",
    "claim": "candlelab claim candlelab-demo/screening candlelab-demo/confirmation "
    '--candidate "square braid 2"',
    "share": "candlelab share candlelab-demo/screening --out tumbler.zip",
    "verify": "candlelab verify tumbler.zip",
    "diff": "candlelab diff tumbler.zip another.zip",
    "demo": "candlelab demo candlelab-demo",
    "lab": "candlelab lab candlelab-demo/screening",
    "columns": "candlelab columns",
}


def epilog(name: str) -> str:
    """What stands under the help of a command."""
    return f"\b\nExample:\n  {EXAMPLES[name]}" if name in EXAMPLES else ""
