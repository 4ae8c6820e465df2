"""``sideon share``: clips to be shown to others, faces blurred and names left out."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from cli import exit_codes
from cli.options import SEASON, LanguageOption, SeasonOption, StandardOption, WorkersOption

if TYPE_CHECKING:
    from analysis.job import Event


def share(
    what: Annotated[list[str], typer.Argument(help="Athletes, or clips of the season.")],
    out: Annotated[Path, typer.Option(help="Folder for what may be shared.")] = Path("shared"),
    season: SeasonOption = SEASON,
    standard: StandardOption = "novice",
    language: LanguageOption = "en",
    workers: WorkersOption = None,
) -> None:
    """Make pages and clips to show to others: faces blurred, no names.

    Every face that is found is blurred, and names and notes are left out. Look through each clip
    before it leaves this machine. Follow your club's rules on pictures of minors, and the law where
    you are.

    Example: sideon share "Ann Lee" --out for_parents
    """
    from analysis.season.store import Season
    from analysis.squad.share import clips_to_share
    from analysis.squad.share import share as make
    from cli.progress import clip_progress

    with Season(season, create=False) as opened:
        clips = clips_to_share(opened, what)
        warn_without_consent([clip.athlete for clip in clips], season)
        with clip_progress(f"{len(clips)} clips", shown=True) as tell:
            shares = [0.0] * len(clips)

            def on_event(event: Event) -> None:
                shares[event.index] = event.share
                tell(sum(shares) / len(shares))

            made = make(
                opened,
                clips,
                out,
                standard=standard,
                language=language,
                workers=workers,
                on_event=on_event,
            )
    failed = False
    for clip, outcome in zip(clips, made.outcomes, strict=True):
        if outcome.status == "done":
            typer.echo(f"{Path(outcome.folder) / 'report.html'}  ({clip.date})")
        else:
            failed = True
            typer.echo(f"{clip.file}: {outcome.why}", err=True)
    for path in made.named:
        failed = True
        typer.echo(f"Do not share {path}: it still names the athlete.", err=True)
    typer.echo("Look through each clip before you share it: a face may have been missed.")
    raise typer.Exit(exit_codes.SOME_FAILED if failed else exit_codes.ALL_DONE)


def warn_without_consent(athletes: list[str], season: Path) -> None:
    """Say on stderr for whom no consent is noted; where there is no season, that is everybody."""
    from analysis.season.schema import FILE_NAME
    from analysis.season.store import Season
    from analysis.squad.share import unconsented

    if (season / FILE_NAME).exists():
        with Season(season, create=False) as opened:
            without = unconsented(opened, athletes)
    else:
        without = sorted(set(athletes))
    for name in without:
        typer.echo(
            f"WARNING: no consent is noted for {name} in {season}. Share nothing of theirs before "
            f'it is: sideon consent "{name}" DATE --by WHO',
            err=True,
        )
