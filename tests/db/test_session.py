"""Opening the database: shape, safety, and a clear sentence when it cannot be."""

from __future__ import annotations

import os
import sqlite3
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import ExitStack, contextmanager
from pathlib import Path

import pytest
from alembic import command
from alembic.autogenerate import compare_metadata
from alembic.migration import MigrationContext
from alembic.script import ScriptDirectory
from sqlalchemy import inspect, literal_column, select, text
from sqlalchemy.exc import IntegrityError, OperationalError

from app.db import session as session_module
from app.db import store
from app.db.session import (
    CannotOpen,
    begin_write,
    migration_config,
    open_copy,
    open_database,
)
from app.db.tables import Base, PersonRow, Plain
from tests import new_databases


@contextmanager
def _without_power() -> Iterator[None]:
    """Whoever may write anywhere gives that up, so that a read-only folder is one."""
    if os.geteuid() != 0:
        yield
        return
    os.seteuid(65534)
    try:
        yield
    finally:
        os.seteuid(0)


@pytest.fixture(autouse=True)
def _by_migrations(monkeypatch: pytest.MonkeyPatch) -> None:
    """Each database of this file is made by the migrations, as it is outside the tests."""
    monkeypatch.setattr(session_module, "_migrate", new_databases.BY_MIGRATIONS)


def test_a_copy_of_a_new_database_is_the_same(monkeypatch: pytest.MonkeyPatch) -> None:
    """What other tests begin with has each table, index, trigger and row of a made one."""
    made = _statements()
    assert len(made) > len(Base.metadata.tables)
    new_databases.begin_as_made(monkeypatch)
    assert [_statements(), _statements()] == [made, made]


def _statements() -> list[list[str]]:
    """Each statement as its sorted lines: a migration may name a table's keys in any order."""
    opened = open_database(None)
    with opened.session() as session:
        found = new_databases.statements_of(session.connection())
    opened.close()
    return sorted(sorted(line.rstrip(", ") for line in one.splitlines()) for one in found)


def test_models_and_migrations_agree() -> None:
    """The migrations build exactly the tables that the models describe."""
    with open_database(None).session() as session:
        context = MigrationContext.configure(session.connection())
        assert compare_metadata(context, Base.metadata) == []
        assert "weather" in inspect(session.connection()).get_table_names()


def test_every_step_can_be_taken_back(tmp_path: Path) -> None:
    """Down to nothing and up again leaves the tables as they were and no data behind."""
    database = open_database(tmp_path / "c.sqlite3")
    with database.session() as session:
        begin_write(session)
        config = migration_config(session.connection())
        command.downgrade(config, "base")
        assert inspect(session.connection()).get_table_names() == ["alembic_version"]
        command.upgrade(config, "head")
        assert store.built_in_person(session).name == "site manager"
        session.commit()


def test_the_newest_shape_is_known_by_the_names_of_files(tmp_path: Path) -> None:
    """Files of migrations are named by their revision, so that a database of the newest shape is
    known without Alembic; one of an older shape, or of two, is none."""
    database = open_database(tmp_path / "c.sqlite3")
    with database.session() as session:
        connection = session.connection()
        scripts = ScriptDirectory.from_config(migration_config(connection))
        for script in scripts.walk_revisions():
            assert Path(script.path).stem.startswith(f"{script.revision}_")
        assert session_module.is_newest(connection)
        begin_write(session)
        connection = session.connection()
        held = scripts.get_current_head()
        for older in ("clothcast_0010", "clothcast_001", "", f"{held}9"):
            connection.execute(text("UPDATE alembic_version SET version_num = :v"), {"v": older})
            assert not session_module.is_newest(connection)
        connection.execute(text("INSERT INTO alembic_version VALUES (:v)"), {"v": held})
        assert not session_module.is_newest(connection)


def test_one_person_is_built_in() -> None:
    """A new database knows one person, so that every change has somebody."""
    with open_database(None).session() as session:
        assert store.built_in_person(session) == store.Account(1, "site manager")


def test_a_file_is_safe_against_a_power_cut(tmp_path: Path) -> None:
    """Write-ahead log, full synchronisation, foreign keys and a patient wait are on."""
    database = open_database(tmp_path / "new" / "c.sqlite3")
    with database.session() as session:
        asked = {
            name: session.execute(text(f"PRAGMA {name}")).scalar()
            for name in ("journal_mode", "synchronous", "foreign_keys", "busy_timeout")
        }
    assert asked == {
        "journal_mode": "wal",
        "synchronous": 2,
        "foreign_keys": 1,
        "busy_timeout": 30_000,
    }


def test_a_row_without_its_owner_is_refused() -> None:
    """A count of a site that is not there cannot be stored."""
    with open_database(None).session() as session:
        begin_write(session)
        with pytest.raises(IntegrityError, match="FOREIGN KEY"):
            session.execute(text("INSERT INTO counts VALUES (7, '2026-07-18', 9, 0, 3)"))


def test_opening_again_finds_what_was_stored(tmp_path: Path) -> None:
    """A second opening changes nothing and finds the data."""
    path = tmp_path / "c.sqlite3"
    first = open_database(path)
    with first.session() as session:
        begin_write(session)
        session.execute(text("UPDATE persons SET name = 'somebody'"))
        session.commit()
    first.close()
    with open_database(path).session() as session:
        assert store.built_in_person(session).name == "somebody"


def test_programs_that_start_together_open_one_database(tmp_path: Path) -> None:
    """Of several that find no database one makes it, the others wait for it."""
    path = tmp_path / "c.sqlite3"
    with ThreadPoolExecutor(4) as pool:
        opened = list(pool.map(lambda _: open_database(path), range(4)))
    for database in opened:
        with database.session() as session:
            assert store.built_in_person(session).id == 1


def test_nobody_waits_for_a_connection_that_another_one_holds(tmp_path: Path) -> None:
    """Forty, as many as are served at once, hold a session each and read with a second one."""
    database = open_database(tmp_path / "c.sqlite3")
    with ExitStack() as held:
        for _one in range(2 * 40):
            session = held.enter_context(database.session())
            assert store.built_in_person(session).id == 1


def test_memory_databases_are_apart() -> None:
    """What one database in memory holds, another does not see."""
    first, second = open_database(None), open_database(None)
    with first.session() as session:
        begin_write(session)
        session.execute(text("UPDATE persons SET name = 'somebody'"))
        session.commit()
    with second.session() as session:
        assert store.built_in_person(session).name == "site manager"


def test_what_is_not_committed_is_undone() -> None:
    """Leaving a session without a commit leaves nothing."""
    database = open_database(None)
    with database.session() as session:
        begin_write(session)
        session.execute(text("UPDATE persons SET name = 'somebody'"))
    with database.session() as session:
        assert store.built_in_person(session).name == "site manager"


def test_rows_put_in_beside_the_gate_are_refused() -> None:
    """A write does not begin on top of changes that nobody checked."""
    with open_database(None).session() as session:
        session.add(PersonRow(name="stowaway"))
        with pytest.raises(RuntimeError, match="did not come through the gate"):
            begin_write(session)


def test_a_read_only_folder_is_told(tmp_path: Path) -> None:
    """A folder that nobody may write in is named, with the way out."""
    folder = tmp_path / "locked"
    folder.mkdir()
    _let_others_through(tmp_path)
    folder.chmod(0o555)
    with _without_power():
        with pytest.raises(CannotOpen, match=r"locked/c\.sqlite3 cannot be written; allow writing"):
            open_database(folder / "c.sqlite3")
        with pytest.raises(CannotOpen, match=r"locked/new cannot be made \(permission denied\)"):
            open_database(folder / "new" / "c.sqlite3")


def test_a_read_only_database_is_told(tmp_path: Path) -> None:
    """A database that may only be read is told at the start, not at the first write."""
    path = tmp_path / "c.sqlite3"
    open_database(path).close()
    _let_others_through(tmp_path)
    path.chmod(0o444)
    tmp_path.chmod(0o555)
    with (
        _without_power(),
        pytest.raises(CannotOpen, match="cannot be written; allow writing in its folder"),
    ):
        open_database(path)
    tmp_path.chmod(0o755)


def _let_others_through(path: Path) -> None:
    """Temporary folders are closed to others; open the way to this one."""
    for folder in (path, *path.parents):
        if folder.stat().st_mode & 0o005 != 0o005:
            folder.chmod(folder.stat().st_mode | 0o755)


def test_a_file_instead_of_a_folder_is_told(tmp_path: Path) -> None:
    """A data folder that is a file is named with the reason."""
    (tmp_path / "data").write_text("")
    with pytest.raises(CannotOpen, match="data cannot be made"):
        open_database(tmp_path / "data" / "c.sqlite3")


def test_a_folder_instead_of_the_file_is_told(tmp_path: Path) -> None:
    """A folder where the database file should be is told."""
    (tmp_path / "c.sqlite3").mkdir()
    with pytest.raises(CannotOpen, match=r"c\.sqlite3 cannot be written"):
        open_database(tmp_path / "c.sqlite3")


def test_a_file_that_is_no_database_is_told_and_kept(tmp_path: Path) -> None:
    """A picture renamed to the database's name is refused and stays as it is."""
    path = tmp_path / "c.sqlite3"
    content = b"\x89PNG\r\n\x1a\n" + bytes(5000)
    path.write_bytes(content)
    with pytest.raises(CannotOpen, match="is not a database, or it is damaged; move it away"):
        open_database(path)
    assert path.read_bytes() == content


@pytest.mark.parametrize("revision", [None, "1f3a9c"])
def test_another_programs_database_is_left_alone(tmp_path: Path, revision: str | None) -> None:
    """A database that is not ours is refused, whether or not it counts its own steps."""
    path = tmp_path / "c.sqlite3"
    with sqlite3.connect(path) as other:
        other.execute("CREATE TABLE recipes (name TEXT)")
        if revision:
            other.execute("CREATE TABLE alembic_version (version_num TEXT)")
            other.execute("INSERT INTO alembic_version VALUES (?)", (revision,))
    other.close()
    with pytest.raises(CannotOpen, match="is a database of another program"):
        open_database(path)


def test_a_newer_database_is_left_alone(tmp_path: Path) -> None:
    """A database in a shape that this program doesn't know is refused with the remedy."""
    path = tmp_path / "c.sqlite3"
    open_database(path).close()
    with sqlite3.connect(path) as newer:
        newer.execute("UPDATE alembic_version SET version_num = 'clothcast_9999'")
    newer.close()
    with pytest.raises(CannotOpen, match="was written by a newer Clothcast; update the program"):
        open_database(path)


@pytest.mark.parametrize("number", range(1, 10))
def test_a_database_from_before_the_first_release_is_left_alone(
    tmp_path: Path, number: int
) -> None:
    """A shape that was never released is refused with the way to take its sites along."""
    path = tmp_path / "c.sqlite3"
    open_database(path).close()
    with sqlite3.connect(path) as older:
        older.execute("UPDATE alembic_version SET version_num = ?", (f"clothcast_{number:04}",))
    older.close()
    before = path.read_bytes()
    with pytest.raises(CannotOpen, match=r"from before the first release of Clothcast; export"):
        open_database(path)
    assert path.read_bytes() == before


def test_a_database_held_by_another_program_is_told(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A database that another program does not let go of is told after the wait."""
    path = tmp_path / "c.sqlite3"
    open_database(path).close()
    monkeypatch.setattr(session_module, "BUSY_MS", 20)
    holder = sqlite3.connect(path, isolation_level=None)
    holder.execute("BEGIN IMMEDIATE")
    with pytest.raises(CannotOpen, match="is in use by another program"):
        open_database(path)
    holder.close()


def test_a_sentence_keeps_its_gaps_for_the_catalogue() -> None:
    """The sentence of a refusal can be looked up; what fills it stands beside it."""
    refusal = CannotOpen("The file {path} is gone.", path="x")
    assert (refusal.sentence, refusal.values) == ("The file {path} is gone.", {"path": "x"})
    assert str(refusal) == "The file x is gone."


ODD_NAMES = ("quest?ion", "50%20", "a#b", "file:x", "Zürich & Söhne", "a=b&mode=memory", " ")


@pytest.mark.parametrize("name", ODD_NAMES)
def test_a_folder_may_be_called_anything(tmp_path: Path, name: str) -> None:
    """The path is taken letter by letter; nothing in it makes another, empty database of it."""
    path = tmp_path / name / "c.sqlite3"
    database = open_database(path)
    with database.session() as session:
        begin_write(session)
        session.execute(text("UPDATE persons SET name = 'somebody'"))
        session.commit()
    database.close()
    assert [found.name for found in tmp_path.iterdir()] == [name]
    assert [found.name for found in path.parent.iterdir()] == ["c.sqlite3"]
    kept = sqlite3.connect(os.path.relpath(path))
    assert kept.execute("SELECT name FROM persons").fetchone() == ("somebody",)
    kept.close()


def test_a_database_of_length_zero_is_refused(tmp_path: Path) -> None:
    """An empty file is none of ours: whoever lost a database is told, not given a new one."""
    path = tmp_path / "c.sqlite3"
    path.touch()
    with pytest.raises(CannotOpen, match=r"is empty, which none of ours ever is: put a backup"):
        open_database(path)
    assert path.stat().st_size == 0


def test_a_database_is_made_whole_or_not_at_all(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Ended while it is made, no file is there, and the next start makes one."""
    path = tmp_path / "c.sqlite3"

    def ended(engine: object, named: object) -> None:
        raise KeyboardInterrupt

    with monkeypatch.context() as patch:
        patch.setattr(session_module, "_migrate", ended)
        with pytest.raises(KeyboardInterrupt):
            open_database(path)
    assert list(tmp_path.iterdir()) == []
    open_database(path).close()
    assert path.stat().st_size > 0


def _damaged(path: Path) -> None:
    """Overwrite every page of tables and indexes but the first, which holds the schema."""
    size = path.stat().st_size
    with path.open("r+b") as file:
        file.seek(4096)
        file.write(b"\xfa" * (size - 4096))


def test_a_database_damaged_inside_is_told_where_it_is_read(tmp_path: Path) -> None:
    """Garbage behind an intact beginning is one sentence, when opening or later."""
    path = tmp_path / "c.sqlite3"
    open_database(path).close()
    _damaged(path)

    def look() -> None:
        with open_database(path).session() as session:
            store.built_in_person(session)

    with pytest.raises(CannotOpen, match="is not a database, or it is damaged; move it away"):
        look()


def test_a_cell_that_is_no_content_is_told_as_damage(tmp_path: Path) -> None:
    """A text that ends half-way is the database's fault and said as such."""
    database = open_database(tmp_path / "c.sqlite3")
    told = "is damaged: something in it can't be read"
    with pytest.raises(CannotOpen, match=told), database.session() as session:
        session.scalar(select(literal_column("'{\"open_h\": '", Plain())))


def test_a_full_disk_is_one_sentence_and_loses_nothing(tmp_path: Path) -> None:
    """Where SQLite finds no room, what was stored before stays and the next try may work."""
    database = open_database(tmp_path / "c.sqlite3")
    long = "x" * 200_000

    def write(most_pages: int) -> None:
        with database.session() as session:
            session.execute(text(f"PRAGMA max_page_count = {most_pages}"))
            begin_write(session)
            session.execute(text("UPDATE persons SET name = :name"), {"name": long})
            session.commit()

    with pytest.raises(CannotOpen, match="The disk is full, so nothing was stored in"):
        write(1)  # no more than there are
    with database.session() as session:
        assert store.built_in_person(session).name == "site manager"
    write(100_000)
    with database.session() as session:
        assert store.built_in_person(session).name == long


def test_a_fault_of_the_program_is_not_called_one_of_the_disk(tmp_path: Path) -> None:
    """Wrong SQL stays an error of the program."""
    database = open_database(tmp_path / "c.sqlite3")
    with pytest.raises(OperationalError, match="no such table"), database.session() as session:
        session.execute(text("SELECT * FROM nowhere"))


def test_a_copy_is_read_as_it_stands_or_refused(tmp_path: Path) -> None:
    """A copy of the present shape opens; one that is not there, no database, or somebody else's is
    named and stays as it is."""
    path = tmp_path / "c.sqlite3"
    open_database(path).close()
    open_copy(path).close()
    with pytest.raises(CannotOpen, match="There is no file"):
        open_copy(tmp_path / "none.sqlite3")
    other = tmp_path / "other.sqlite3"
    with sqlite3.connect(other) as connection:
        connection.execute("CREATE TABLE recipes (name TEXT)")
    connection.close()
    before = other.read_bytes()
    with pytest.raises(CannotOpen, match="is no database of this Clothcast’s shape"):
        open_copy(other)
    assert other.read_bytes() == before
    other.write_bytes(b"some text" * 1_000)
    with pytest.raises(CannotOpen, match="is not a database, or it is damaged"):
        open_copy(other)


@pytest.mark.parametrize("fault", [None, FileExistsError, OSError])
def test_a_new_file_gets_its_name_on_any_disk(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, fault: type[OSError] | None
) -> None:
    """By a second name, by a new one where disks have no second names, and not at all where
    another process was first, whose file then counts."""
    path = tmp_path / "c.sqlite3"

    def refused(self: Path, made: Path) -> None:
        assert fault is not None
        if fault is FileExistsError:
            self.write_bytes(made.read_bytes())
            theirs.append(self.stat().st_ino)
        raise fault

    theirs: list[int] = []
    if fault is not None:
        monkeypatch.setattr(Path, "hardlink_to", refused)
    database = open_database(path)
    with database.session() as session:
        assert store.list_sites(session) == ()
    database.close()
    assert [one.name for one in tmp_path.iterdir() if one.name.startswith(".new-")] == []
    assert theirs in ([], [path.stat().st_ino])


def test_a_name_too_long_for_the_disk_is_told(tmp_path: Path) -> None:
    """What the system says of it stands in the sentence."""
    with pytest.raises(CannotOpen, match="File name too long"):
        open_database(tmp_path / ("c" * 300))
