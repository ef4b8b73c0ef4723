"""What a site keeps in rows: weighings, sets and their record, people and rosters."""
