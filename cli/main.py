"""The ``sideon`` command. Heavy modules are imported only once a command needs them."""

from __future__ import annotations

import gc
import sys
from typing import Any

import typer

from analysis.errors import SideonError
from cli import exit_codes
from cli.check_command import check
from cli.compare_command import compare
from cli.export_command import export
from cli.forget_command import forget
from cli.register_command import consent, note
from cli.review_command import review
from cli.share_command import share
from cli.squad_command import squad
from cli.standard_command import standard
from cli.watch_command import watch

#: What the option library raises for words that make no command; it hands out no name for it.
_MISUSE: Any = typer.BadParameter.__mro__[1]

app = typer.Typer(
    name="sideon",
    help="Reviews side-on clips of novice rowers: posture, sequence, the one thing to fix first.",
    no_args_is_help=True,
    pretty_exceptions_enable=False,
    rich_markup_mode=None,
)
app.command("review")(review)
app.command("check")(check)
app.command("squad")(squad)
app.command("watch")(watch)
app.command("compare")(compare)
app.command("consent")(consent)
app.command("note")(note)
app.command("export")(export)
app.command("share")(share)
app.command("forget")(forget)
app.command("standard")(standard)


def _show_version(wanted: bool) -> None:
    if wanted:
        from analysis import __version__

        typer.echo(f"sideon {__version__}")
        raise typer.Exit


@app.callback()
def sideon(
    version: bool = typer.Option(
        False, "--version", callback=_show_version, is_eager=True, help="Print the version."
    ),
) -> None:
    """Reviews side-on clips of novice rowers: posture, sequence, the one thing to fix first.

    Clips stay on this machine; no network is used. Not medical advice: pain means stop and see
    a clinician.
    """


def main() -> None:
    """Run the command line; every expected failure ends in one plain sentence."""
    try:
        sys.exit(
            app(None if sys.argv[1:] else ["--help"], prog_name="sideon", standalone_mode=False)
        )
    except _MISUSE as error:
        typer.echo(f"sideon: {_how_it_is_used(error)}", err=True)
        sys.exit(exit_codes.USAGE)
    except SideonError as error:
        typer.echo(f"sideon: {error}", err=True)
        sys.exit(exit_codes.USAGE)
    except typer.Abort:  # at a question
        typer.echo("sideon: stopped without an answer; nothing was done.", err=True)
        sys.exit(exit_codes.STOPPED)
    except KeyboardInterrupt:
        _say_stopped()
        sys.exit(exit_codes.STOPPED)
    except SystemExit as ended:
        # The option library turns Ctrl-C into an exit of its own, without a word.
        if ended.code == exit_codes.STOPPED:
            _say_stopped()
        raise
    except BrokenPipeError:
        # The reader of our output (head, less) has gone: that is no failure of ours.
        sys.stderr.close()
        sys.exit(exit_codes.ALL_DONE)
    finally:
        # Python would look through all that is left, twice, before it ends: 0.16 s after a review.
        gc.freeze()


def _how_it_is_used(error: Any) -> str:
    """Return what is wrong with the words of a command, and where to look, in one sentence."""
    wrong = error.format_message().rstrip(".?").replace(". Did you", ", did you")
    if hasattr(error, "possibilities"):
        wrong = f"{error.option_name} is no option"
        if error.possibilities:
            wrong += f" (did you mean {' or '.join(sorted(error.possibilities))}?)"
    first = next(iter(sys.argv[1:]), "")
    named = first in [command.name for command in app.registered_commands]
    command = f"sideon {first}" if named else "sideon"
    return f"{wrong[:1].lower()}{wrong[1:]}: {command} --help tells how it is used."


def _say_stopped() -> None:
    typer.echo("sideon: stopped; finished reviews are kept.", err=True)


if __name__ == "__main__":
    main()
