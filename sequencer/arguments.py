"""What may stand on the command line: the commands and their arguments, checked as far as they can be without a file.

Nothing heavy is imported, so `--help` comes at once.
"""

from __future__ import annotations

import argparse
from collections.abc import Callable, Sequence


def read(version: str, words: Sequence[str] | None = None) -> argparse.Namespace:
    """What stands on a command line (without `words`: this one's); `command` is the name of the command.

    What a command does not take is told with what it does. Raises SystemExit where something is wrong (code 2), and
    where help or version was asked for.
    """
    whole, commands = _parser(version)
    arguments, left = whole.parse_known_args(words)
    if left:
        commands[arguments.command].error(f"unrecognized arguments: {' '.join(left)}")
    return arguments


def _parser(version: str) -> tuple[argparse.ArgumentParser, dict[str, argparse.ArgumentParser]]:
    """The parser of the whole command line, and those of its commands."""
    whole = argparse.ArgumentParser(
        prog="sequencer",
        description="Plan the order of cuts for a joinery job with the fewest resets, "
        "and print a card for each setup.",
        epilog="Exit codes: 0 done, 2 wrong input, 3 no order is possible, 130 interrupted.",
    )
    whole.add_argument("--version", action="version", version=f"sequencer {version}")
    commands = whole.add_subparsers(title="commands", required=True, metavar="COMMAND", dest="command")
    for name, (help, add) in COMMANDS.items():
        add(commands.add_parser(name, help=help, description=help[0].upper() + help[1:] + "."))
    return whole, commands.choices


def _plan(command: argparse.ArgumentParser) -> None:
    _job(command)
    _search(command)
    _json(command, "the plan")
    _shown(command)
    command.add_argument(
        "--price-rules",
        action="store_true",
        help="plan again without each rule in turn, and say what it costs to keep it",
    )


def _replan(command: argparse.ArgumentParser) -> None:
    _job(command)
    command.add_argument(
        "plan", type=_file, metavar="PLAN.json", help="the plan that was begun, from `--json`"
    )
    command.add_argument(
        "--done",
        type=_whole,
        required=True,
        metavar="N",
        help="so many of its first steps are done (0: none)",
    )
    command.add_argument(
        "--skipped",
        action="append",
        default=[],
        metavar="STEPS",
        help="steps among these that are not done after all, each once: 7,9 (may be given several times)",
    )
    command.add_argument(
        "--spoiled",
        action="append",
        default=[],
        metavar="PART=N",
        help="pieces of a part to be made again (may be given several times, once for each part)",
    )
    command.add_argument(
        "--moved",
        action="append",
        default=[],
        metavar="STATION.SETTING[=VALUE]",
        help="a setting that no longer stands as the plan left it, and where it stands if that is known (may be given "
        "several times, once for each setting)",
    )
    _search(command)
    _json(command, "the new plan")
    _shown(command)


def _cards(command: argparse.ArgumentParser) -> None:
    command.add_argument(
        "job",
        type=_file,
        metavar="JOB",
        help="the job file (TOML); or a plan from `--json`, printed as it is",
    )
    _search(command)
    command.add_argument(
        "-o",
        "--output",
        type=_path,
        required=True,
        metavar="FILE.pdf",
        help="where to write the booklet; - for standard output, and nothing else there",
    )
    command.add_argument("--paper", choices=["a4", "letter"], default="a4", help="paper size (default: a4)")
    command.add_argument(
        "--per-sheet",
        type=_whole,
        choices=[4, 1],
        default=4,
        help="cards on a sheet (default: 4, with cut marks)",
    )
    command.add_argument(
        "--csv", type=_path, metavar="FOLDER", help="also write cut list, steps and marking-out as CSV"
    )
    command.add_argument("--svg", type=_path, metavar="FOLDER", help="also write every drawing as SVG")
    command.add_argument(
        "--html", type=_path, metavar="FILE", help="also write the cards as one self-contained page"
    )


def _joints(command: argparse.ArgumentParser) -> None:
    _job(command)
    _json(command, "the report")


def _angles(command: argparse.ArgumentParser) -> None:
    command.add_argument("--sides", type=_whole, metavar="N", help="a regular form of N sides")
    command.add_argument(
        "--corner", type=_degrees, metavar="DEGREES", help="or one corner: its inside angle in plan"
    )
    command.add_argument(
        "--slope", type=_degrees, metavar="DEGREES", help="slope of the sides from horizontal, 90 = upright"
    )
    command.add_argument(
        "--spring",
        type=_degrees,
        metavar="DEGREES",
        help="or the spring angle of a moulding, between its back and the wall",
    )
    command.add_argument(
        "--other-slope",
        type=_degrees,
        metavar="DEGREES",
        help="slope of the second side, where the two differ",
    )
    _json(command, "the angles")


def _rules(command: argparse.ArgumentParser) -> None:
    command.add_argument(
        "job", nargs="?", type=_file, metavar="JOB", help="a job file, to list the rules in force for it"
    )


def _show(command: argparse.ArgumentParser) -> None:
    command.add_argument(
        "plan", type=_file, metavar="PLAN.json", help="a file written by `sequencer plan --json`"
    )
    _shown(command)


def _schema(command: argparse.ArgumentParser) -> None:
    command.add_argument("file", choices=["plan", "job", "shop"], help="which file")


def _job(command: argparse.ArgumentParser) -> None:
    command.add_argument("job", type=_file, metavar="JOB", help="the job file (TOML)")


def _search(command: argparse.ArgumentParser) -> None:
    command.add_argument(
        "--time-limit",
        type=_seconds,
        default=60.0,
        metavar="SECONDS",
        help="stop with the best plan found after this time (default: 60)",
    )
    command.add_argument(
        "--seed", type=_whole, default=0, metavar="N", help="seed of the search (default: 0)"
    )


def _shown(command: argparse.ArgumentParser) -> None:
    command.add_argument(
        "--show",
        choices=["all", "summary", "steps", "cards"],
        default="all",
        help="what to print (default: all of it)",
    )


def _json(command: argparse.ArgumentParser, what: str) -> None:
    command.add_argument(
        "--json",
        type=_path,
        metavar="FILE",
        help=f"write {what} as JSON; - for standard output, and nothing else there",
    )


def _path(text: str) -> str:
    """A file or a folder to write."""
    return _named(text, "what to write")


def _file(text: str) -> str:
    """A file to read."""
    return _named(text, "a file")


def _named(text: str, what: str) -> str:
    if not text.strip():
        raise argparse.ArgumentTypeError(f"must name {what}, not be empty")
    return text


def _whole(text: str) -> int:
    """A whole number; which ones will do is told where what is counted is known."""
    try:
        return int(text)
    except ValueError:
        raise argparse.ArgumentTypeError(f"must be a whole number, such as 4, not {text!r}") from None


def _degrees(text: str) -> float:
    """An angle; which ones will do is told where what it measures is known."""
    try:
        degrees = float(text)
    except ValueError:
        degrees = float("nan")
    if not abs(degrees) < float("inf"):
        raise argparse.ArgumentTypeError(f"must be a number of degrees, such as 22.5, not {text!r}")
    return degrees


def _seconds(text: str) -> float:
    """A time limit: a number of seconds above 0."""
    try:
        seconds = float(text)
    except ValueError:
        seconds = 0.0
    if not 0 < seconds < float("inf"):
        raise argparse.ArgumentTypeError(f"must be a number of seconds above 0, not {text!r}")
    return seconds


COMMANDS: dict[str, tuple[str, Callable[[argparse.ArgumentParser], None]]] = {
    "plan": ("order a job and print summary, step list and setup cards", _plan),
    "replan": ("order anew what is left of a plan, when something went otherwise at the bench", _replan),
    "cards": ("order a job and print its cards and sheets as PDF", _cards),
    "check": ("say everything that can be known without ordering", _job),
    "joints": ("for each joint: geometry, walls, glue and grain, ways ranked", _joints),
    "angles": ("gauge and tilt for a mitred or splayed corner", _angles),
    "rules": ("list the rules, their reasons and sources", _rules),
    "show": ("print a plan from its JSON file, without planning again", _show),
    "schema": ("print the JSON schema of a file", _schema),
}
"""Each command: what it does, and what adds its arguments."""
