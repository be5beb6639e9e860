"""The command line: one file a command; each loads what it needs only when it runs."""

from __future__ import annotations

import argparse
import os
import sys
from collections.abc import Sequence

from firingend.cli import demo, diagnose, evaluate, job, knowledge, next_step, read, report, store, view
from firingend.errors import UserError

EXIT_CODES = """\
exit codes:
  0  done
  1  the job could not be done; the message on the error output says what and how to mend it
  2  wrong usage
"""


def main(argv: Sequence[str] | None = None) -> int:
    """Run one command and give its exit code: 0 done, 1 could not be done; wrong usage leaves with 2."""
    args = _parser().parse_args(argv)
    for stream in (sys.stdout, sys.stderr):
        # A console that lacks a character shows a question mark instead of stopping the job.
        if reconfigure := getattr(stream, "reconfigure", None):
            reconfigure(errors="replace")
    try:
        code: int = args.run(args)
        sys.stdout.flush()
    except UserError as error:
        print("firingend: " + " ".join(str(error).split()), file=sys.stderr)
        return 1
    except KeyboardInterrupt:
        print("firingend: stopped", file=sys.stderr)
        return 1
    except BrokenPipeError:
        # Whoever was reading has gone; keep Python from complaining about it once more at exit.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return 1
    return code


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(
        prog="firingend",
        description="Reads photographs of spark-plug firing ends, compares cylinders and ranks the next check.",
        epilog=EXIT_CODES,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    parser.add_argument("--version", action=_Version, help="print the version and leave")
    commands = parser.add_subparsers(title="commands", metavar="COMMAND", required=True)
    for command in (demo, read, diagnose, next_step, report, view, evaluate, knowledge, job, store):
        sub = command.add_to(commands)
        sub.epilog = EXIT_CODES
        sub.formatter_class = argparse.RawDescriptionHelpFormatter
        sub.set_defaults(run=command.run)
    return parser


class _Version(argparse.Action):
    """Looks the version up only when asked for it: the look-up reads files."""

    def __init__(self, option_strings: Sequence[str], dest: str, help: str | None = None) -> None:
        super().__init__(option_strings, dest, nargs=0, help=help)

    def __call__(self, parser: argparse.ArgumentParser, *_: object) -> None:
        from importlib.metadata import version

        print("firingend", version("firingend"))
        parser.exit()
