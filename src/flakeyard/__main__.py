"""`python -m flakeyard`: the command, where the folder of the command is not on the path."""

from flakeyard.cli import main

raise SystemExit(main())
