"""Back up, verify, restore as somebody types them."""

from __future__ import annotations

import sqlite3

from app.db.chain import shown
from tests.cli.shell import Shell


def test_back_up_verify_restore(shell: Shell) -> None:
    """A site is brought in and copied; the history is followed, also against a value that was
    printed; the database is lost, and the copy put in its place."""
    assert shell.run("import", shell.wash)[0] == 0
    code, said, _err = shell.run("backup")
    assert code == 0
    copy = next((shell.data / "backups").glob("*.sqlite3"))
    value = said.split("Its last value: ")[1]
    assert len(value) == 64
    printed = shown(value)
    assert f"It ended with {printed} at " in shell.run("verify", "--against", printed)[1]
    assert shell.run("verify", copy)[1].endswith(value)
    (shell.data / "clothcast.sqlite3").unlink()
    code, said, _err = shell.run("restore", copy)
    assert (code, "Restored: " in said) == (0, True)
    assert shell.run("verify")[1].endswith(value)
    assert shell.stored().site.name == "Small Wash"


def test_what_was_altered_is_named(shell: Shell) -> None:
    """Exit code 1, and the row; a value that is none is refused with what would be right."""
    shell.run("import", shell.wash)
    with sqlite3.connect(shell.data / "clothcast.sqlite3") as connection:
        connection.execute("UPDATE changes SET field = 'another' WHERE id = 1")
    connection.close()
    code, _out, err = shell.run("verify")
    assert (code, "Row 1 of the history" in err) == (1, True)
    code, _out, err = shell.run("verify", "--against", "x")
    assert (code, "give the 20 digits" in err) == (1, True)


def test_nothing_to_keep_is_told(shell: Shell) -> None:
    """Without a database there is nothing to copy or to follow, and none is made."""
    for said, words in (
        (("backup",), "There is no database"),
        (("verify",), "There is no database"),
        (("restore", "nothing.sqlite3"), "There is no file"),
    ):
        code, _out, err = shell.run(*said)
        assert (code, words in err) == (1, True), said
    assert not (shell.data / "clothcast.sqlite3").exists()


def test_upgrade_says_what_it_did_and_how_to_go_back(shell: Shell) -> None:
    """Backup, shape, history, that it is ready, and the command that goes back; without a database
    there is nothing to upgrade."""
    code, _out, err = shell.run("upgrade")
    assert (code, "There is no database" in err) == (1, True)
    shell.run("import", shell.wash)
    code, said, err = shell.run("upgrade")
    copy = next((shell.data / "backups").glob("*.sqlite3"))
    assert (code, err) == (0, "")
    assert said.startswith(f"Backup: {copy} The database has the shape of this Clothcast already.")
    assert "rows is whole." in said
    assert said.endswith(f"clothcast restore {copy}")
    assert shell.stored().site.name == "Small Wash"
