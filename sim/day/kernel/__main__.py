"""``python -m sim.day.kernel`` compiles the day and keeps it on disk; set-up runs it once."""

from sim.day.kernel import warm

if __name__ == "__main__":
    warm()
