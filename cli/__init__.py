"""The command line: options, checks, run, write."""
