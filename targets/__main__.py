"""``python -m targets`` is ``rungwright``, for where the script is not on the path."""

from targets.command_line import main

main(prog_name="rungwright")
