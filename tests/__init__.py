"""The tests. The app comes first, since linear algebra keeps to one thread only where that was said
before it is loaded; two workers with two threads each would take each other's processor. Before it
comes what counts the lines that are run, where that was asked for."""

from tests import lines_run

lines_run.begin()

import app as app  # noqa: E402 - see above
