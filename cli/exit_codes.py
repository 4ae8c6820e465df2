"""Exit codes, named once."""

#: Everything asked for was done.
ALL_DONE = 0
#: Some clips could not be reviewed; the others were.
SOME_FAILED = 1
#: The command cannot be carried out as given; nothing was done.
USAGE = 2
#: Stopped by the user; what was finished by then is kept.
STOPPED = 130
