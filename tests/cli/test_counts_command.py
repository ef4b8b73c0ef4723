"""`clothcast counts`: an export read in the terminal as on the page."""

from __future__ import annotations

from datetime import date
from pathlib import Path

from sim.inputs import HourCount
from tests.cli.shell import Shell

OPEN = "When;Cars\n05/06/2024 8:00;10\n05/06/2024 9:00;12\n06/06/2024 8:00;11\n"


def written(shell: Shell, text: str) -> Path:
    """A file of somebody's till beside the site."""
    path = shell.wash.parent / "till.csv"
    path.write_text(text, encoding="utf-8")
    return path


def test_a_file_is_understood_in_words_and_nothing_is_stored(shell: Shell) -> None:
    """Hours of the file, how it was read and every bad line are said; a folder stays as it is."""
    path = written(shell, OPEN + "31/06/2024 8:00;5\n25/06/2024 8:00;many\n26/06/2024 9:00;x9\n")
    before = (shell.wash / "counts.csv").read_bytes()
    code, out, _err = shell.run("counts", shell.wash, path)
    assert code == 0
    assert "Wednesday 5 June 2024, 9:00–10:00: 12 cars" in out
    assert "Dates are day first: “25/06/2024 8:00” fits no other way." in out
    assert "3 hours can be stored." in out
    assert "till.csv, line 5: When “31/06/2024 8:00” is not a date." in out
    assert "till.csv, line 7: Cars “x9” is not a number." in out
    assert (shell.wash / "counts.csv").read_bytes() == before
    code, _out, err = shell.run("counts", shell.wash, path, "--store")
    assert code == 1
    assert "is a folder" in err


def test_a_question_names_the_option_that_answers_it(shell: Shell) -> None:
    """What stays open is refused with each answer as an option; answered and stored, it is known
    the next time."""
    assert shell.run("import", shell.wash)[0] == 0
    path = written(shell, OPEN)
    code, _out, err = shell.run("counts", "Small Wash", path, "--store")
    assert code == 1
    assert "Which day is “05/06/2024 8:00”? --order=mdy It is 6 May 2024. --order=dmy" in err
    kind = shell.stored().history.counted
    given = ("--order", "dmy", "--counted", kind, "--store")
    code, out, _err = shell.run("counts", "Small Wash", path, *given)
    assert (code, out[-7:]) == (0, "Stored.")
    assert HourCount(date(2024, 6, 5), 9, 0, 12) in shell.stored().history.counts
    path = written(shell, OPEN.replace("05/06", "07/06").replace("06/06", "08/06"))
    code, out, _err = shell.run("counts", "Small Wash", path)
    assert code == 0
    assert "Friday 7 June 2024, 9:00–10:00: 12 cars" in out
    assert shell.run("counts", "Small Wash", path, "--store", "--replace-all")[0] == 0
    assert len(shell.stored().history.counts) == 3
