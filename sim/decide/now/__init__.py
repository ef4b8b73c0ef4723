"""The rest of a day that has begun: what happened so far, followed, and what to do from now on."""
