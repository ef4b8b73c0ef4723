"""The tests. The app comes first, since linear algebra keeps to one thread only where that was said
before it is loaded; two workers with two threads each would take each other's processor."""

import app as app
