"""Files in and out: CSV cells and tables, hourly files, spreadsheets, uploads."""
