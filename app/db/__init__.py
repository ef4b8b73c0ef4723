"""The database: tables, sessions, reading and writing. The only user of SQLAlchemy."""
