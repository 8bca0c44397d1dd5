"""A command of candlelab, run in this process."""

from click.testing import CliRunner

from candlelab.cli.main import main


def run(*args):
    """The result of ``candlelab ARGS``: exit code, stdout, stderr."""
    return CliRunner().invoke(main, [str(a) for a in args])
